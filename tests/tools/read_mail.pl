# Enters: a mail on standard input; leaves: what Perl's MIME::Parser read, as JSON in ASCII.
use strict;
use warnings;
use Encode qw(decode);
use JSON::PP;
use MIME::Parser;

binmode STDIN;
my $parser = MIME::Parser->new;
$parser->output_to_core(1);
$parser->tmp_to_core(1);
my $mail = $parser->parse(\*STDIN);

sub field {
    my ($name) = @_;
    my $value = $mail->head->get($name, 0) // '';
    $value =~ s/\r?\n(?=[ \t])//g;
    $value =~ s/\r?\n\z//;
    return decode('MIME-Header', $value);
}

sub body {
    my ($part, $type) = @_;
    if ($part->parts) {
        for my $inner ($part->parts) {
            my $found = body($inner, $type);
            return $found if defined $found;
        }
        return undef;
    }
    return undef unless $part->effective_type eq $type;
    return decode($part->head->mime_attr('content-type.charset') // 'us-ascii', $part->bodyhandle->as_string);
}

my @headers;
for my $name ($mail->head->tags) {
    for my $value ($mail->head->get_all($name)) {
        $value =~ s/\r?\n(?=[ \t])//g;
        $value =~ s/\r?\n\z//;
        push @headers, [lc $name, $value];
    }
}

my ($name, $address) = field('From') =~ /^\s*(.*?)\s*<([^<>]+)>\s*$/;
$name =~ s/^"(.*)"$/$1/;
print JSON::PP->new->ascii->encode({
    subject => field('Subject'),
    from    => [$name, $address],
    text    => body($mail, 'text/plain'),
    html    => body($mail, 'text/html'),
    headers => \@headers,
});
