"""Many mails of one campaign: made once where alike, spread over processes, written where changed."""
