// node firefox.mjs: Debian's Firefox ESR, headless, by WebDriver BiDi.
// stdin: JSON {load, faces, look, seen, jobs: [{inside, width}]}; stdout: JSON, one [boxes, seen] for each job.
// `load`, `look` and `seen` are JavaScript; nothing is fetched, pictures are in the markup.
import { createRequire } from "node:module";
import { readFileSync } from "node:fs";

const puppeteer = createRequire(`${process.cwd()}/.tools/node/`)("puppeteer-core");
const order = JSON.parse(readFileSync(0, "utf8"));
const browser = await puppeteer.launch({
  browser: "firefox",
  executablePath: "/usr/bin/firefox-esr",
  headless: true,
  extraPrefsFirefox: {
    // A proxy that nobody listens at: no request leaves the machine.
    "network.proxy.type": 1,
    "network.proxy.http": "127.0.0.1",
    "network.proxy.http_port": 9,
    "network.proxy.ssl": "127.0.0.1",
    "network.proxy.ssl_port": 9,
    "network.captive-portal-service.enabled": false,
    "app.update.enabled": false,
  },
});
try {
  const page = await browser.newPage();
  await page.setContent("<!DOCTYPE html><html><body></body></html>");
  // A scroll bar would take its width from the mail's; headless Chromium's takes none.
  await page.evaluate(() => { document.documentElement.style.scrollbarWidth = "none"; });
  await page.evaluate(`(${order.load})(${JSON.stringify(order.faces)})`);
  const answers = [];
  for (const { inside, width } of order.jobs) {
    await page.setViewport({ width, height: 844 });
    const boxes = await page.evaluate(`(${order.look})(${JSON.stringify(inside)})`);
    await page.setViewport({ width, height: Math.min(Math.ceil(boxes[1]) + 50, 30000) });
    answers.push([boxes, await page.evaluate(`(${order.seen})()`)]);
  }
  process.stdout.write(JSON.stringify({ version: await browser.version(), answers }));
} finally {
  await browser.close();
}
