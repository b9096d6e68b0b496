"use strict";
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const plot = document.getElementById("plot"), svg = plot.querySelector("svg");
  const field = document.getElementById("run"), readout = document.getElementById("readout");
  const fault = document.getElementById("fault"), { frame, runs, prices, words, style } = data;
  const first = runs[0], last = runs[runs.length - 1];
  const SHAPE = "http://www.w3.org/2000/svg";

  const shape = (name, attributes) => {
    const one = document.createElementNS(SHAPE, name);
    for (const [key, value] of Object.entries(attributes)) one.setAttribute(key, value);
    svg.append(one);
    return one;
  };
  const line = shape("path", { fill: "none", stroke: data.ink, "stroke-width": 0.25, "stroke-dasharray": "0.6 0.6" });
  const dots = Object.fromEntries(Object.keys(prices).map(route => [
    route, shape("circle", { r: 1.2, fill: "#ffffff", stroke: data.colours[route], "stroke-width": 0.6 }),
  ]));

  const grouped = digits => digits.replace(/\B(?=(\d{3})+(?!\d))/g, style.group);
  const whole = value => grouped(value.toFixed(0));
  const figures = value => {
    if (Math.abs(value) >= 100) return whole(value);
    const exponent = Number(value.toExponential(2).split("e")[1]);
    const [units, decimals] = value.toFixed(Math.min(Math.max(2 - exponent, 0), 6)).split(".");
    return grouped(units) + (decimals ? style.decimal + decimals : "");
  };
  const filled = (text, places) => text.replace(/\{(\w+)\}/g, (_, name) => places[name]);

  const x = run => frame.left + (frame.right - frame.left) * Math.log(run / frame.first) / Math.log(frame.last / frame.first);
  const y = money => frame.bottom - (frame.bottom - frame.top) * Math.log(money / frame.low) / Math.log(frame.high / frame.low);

  // between worked-out run lengths the line is straight on the logarithmic axes, as it is drawn
  const price = (route, run) => {
    let above = runs.findIndex(known => known >= run);
    if (above < 0) above = runs.length - 1;
    if (runs[above] === run || above === 0) return prices[route][above];
    const share = Math.log(run / runs[above - 1]) / Math.log(runs[above] / runs[above - 1]);
    return prices[route][above - 1] * (prices[route][above] / prices[route][above - 1]) ** share;
  };

  let shown = data.quoted;
  const show = (run, { typed = false } = {}) => {
    shown = Math.round(Math.min(Math.max(run, first), last));
    const said = Object.keys(prices).map(route =>
      filled(words.price, { price: figures(price(route, shown)), currency: data.currency, route: words.routes[route] }));
    readout.textContent = filled(words.readout, { run: whole(shown), prices: said.join(", ") });
    line.setAttribute("d", `M${x(shown)} ${frame.top} V${frame.bottom}`);
    for (const route of Object.keys(prices)) {
      dots[route].setAttribute("cx", x(shown));
      dots[route].setAttribute("cy", y(price(route, shown)));
    }
    plot.setAttribute("aria-valuenow", shown);
    plot.setAttribute("aria-valuetext", readout.textContent);
    fault.textContent = "";
    field.removeAttribute("aria-invalid");
    if (!typed) field.value = whole(shown);
  };

  const typed = () => {
    const digits = field.value.replace(/[\s\u00a0\u202f]/g, "").split(style.group.trim() || " ").join("");
    const run = /^\d+$/.test(digits) ? Number(digits) : NaN;
    if (run >= first && run <= last) return show(run, { typed: true });
    fault.textContent = filled(words.outside, { low: whole(first), high: whole(last) });
    field.setAttribute("aria-invalid", "true");
  };

  plot.setAttribute("aria-valuemin", first);
  plot.setAttribute("aria-valuemax", last);
  plot.addEventListener("pointermove", event => {
    const box = svg.getBoundingClientRect(), place = (event.clientX - box.left) / box.width * data.width;
    const share = (place - frame.left) / (frame.right - frame.left);
    if (share >= 0 && share <= 1) show(frame.first * (frame.last / frame.first) ** share);
  });
  plot.addEventListener("pointerleave", () => document.activeElement === field || show(data.quoted));
  plot.addEventListener("keydown", event => {
    const step = { ArrowRight: 1.02, ArrowUp: 1.02, ArrowLeft: 1 / 1.02, ArrowDown: 1 / 1.02, PageUp: 1.5, PageDown: 1 / 1.5 }[event.key];
    if (step) {
      const next = Math.round(shown * step);
      show(next === shown ? shown + Math.sign(step - 1) : next);
    } else if (event.key === "Home") show(first);
    else if (event.key === "End") show(last);
    else return;
    event.preventDefault();
  });
  field.addEventListener("input", typed);
  show(data.quoted);
})();
