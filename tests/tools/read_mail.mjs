// Enters: a mail on standard input and, as argument, the folder of postal-mime; leaves: what it read, as JSON.
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";

const require = createRequire(`${process.argv[2]}/package.json`);
const PostalMime = require("postal-mime").default ?? require("postal-mime");
const mail = await PostalMime.parse(readFileSync(0));
process.stdout.write(JSON.stringify({
  subject: mail.subject,
  from: [mail.from.name, mail.from.address],
  text: mail.text,
  html: mail.html,
  headers: mail.headers.map(({ key, value }) => [key, value]),
}));
