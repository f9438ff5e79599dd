"use strict";
(() => {
  const read = (id) => JSON.parse(document.getElementById(id).textContent);
  const mails = read("mails");
  const pictures = read("pictures");
  const frames = [...document.querySelectorAll("iframe[data-mail]")];
  let scheme = "light";

  const whole = (key) =>
    mails[key]
      .replace(/\.\.\/pictures\/([A-Za-z0-9._-]+)/g, (found, name) => pictures[name] || found)
      // the screen is chosen on this page, so that both can be seen on any machine
      .replaceAll("(prefers-color-scheme:dark)", scheme === "dark" ? "(min-width:0)" : "(max-width:0)")
      .replaceAll("(prefers-color-scheme: dark)", scheme === "dark" ? "(min-width:0)" : "(max-width:0)");

  const fit = (frame) => {
    const inner = frame.contentDocument;
    if (inner && inner.body) frame.height = Math.ceil(inner.documentElement.getBoundingClientRect().height);
  };

  const show = (frame) => {
    if (frame.dataset.shown === scheme) return;
    frame.dataset.shown = scheme;
    frame.onload = () => fit(frame);
    frame.srcdoc = whole(frame.dataset.mail);
  };

  const near = new IntersectionObserver(
    (seen) => seen.forEach((one) => one.isIntersecting && show(one.target)),
    { rootMargin: "1600px" },
  );
  const watch = () => frames.forEach((frame) => { near.unobserve(frame); near.observe(frame); });
  watch();
  addEventListener("beforeprint", () => frames.forEach(show));
  addEventListener("resize", () => frames.forEach(fit));

  const here = new IntersectionObserver(
    (seen) => seen.forEach((one) => {
      const link = document.querySelector(`.index a[href="#${one.target.id}"]`);
      if (one.isIntersecting) link.setAttribute("aria-current", "true");
      else link.removeAttribute("aria-current");
    }),
    { rootMargin: "-30% 0px -65% 0px" },
  );
  document.querySelectorAll(".block").forEach((block) => here.observe(block));

  document.querySelector(".controls").addEventListener("change", (event) => {
    if (event.target.name === "scheme") {
      scheme = event.target.value;
    } else {
      document.querySelectorAll(".specimen").forEach((one) => {
        one.hidden = event.target.value !== "" && one.dataset.shop !== event.target.value;
      });
    }
    watch();
  });
})();
