// Draws each <figure data-chart> from the JSON block inside it. The page shows the same data as a table.
"use strict";

(() => {
  if (typeof Plot === "undefined") return;
  const css = name => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  const base = (width, extra) => ({
    width, marginLeft: 48, marginBottom: 36, className: "plot",
    style: { background: "transparent", color: css("--ink"), fontFamily: "inherit", fontSize: "12px" }, ...extra,
  });
  const date = text => new Date(`${text}T00:00:00Z`);

  const kinds = {
    // [{ period: "2026-01-01", name: "Screened", share: 0.97, low: 0.95, high: 0.98, n, of }]
    trend(data, width) {
      const rows = data.map(d => ({ ...d, at: date(d.period) }));
      return Plot.plot(base(width, {
        height: 260,
        x: { type: "utc", label: "month of birth" },
        y: { label: "percent", domain: [0, 100], grid: true, transform: v => v * 100 },
        symbol: { legend: true, domain: [...new Set(rows.map(d => d.name))] },
        color: { domain: [...new Set(rows.map(d => d.name))], range: [css("--accent"), css("--late"), css("--missed")] },
        marks: [
          Plot.ruleX(rows, { x: "at", y1: "low", y2: "high", stroke: "name", strokeOpacity: 0.5 }),
          Plot.line(rows, { x: "at", y: "share", stroke: "name" }),
          Plot.dot(rows, { x: "at", y: "share", symbol: "name", stroke: "name", fill: css("--sheet"), r: 4,
            title: d => `${d.name}: ${d.n} of ${d.of}` }),
        ],
      }));
    },
  };

  // Share done by age: [{ day, done, lower, upper, doneCompeting }], shares in [0, 1].
  kinds.reached = (rows, width) => Plot.plot(base(width, {
    height: 240,
    x: { label: "age in days", grid: true },
    y: { label: "percent done", domain: [0, 100], grid: true, transform: v => v * 100 },
    marks: [
      Plot.areaY(rows.filter(d => d.lower !== null), { x: "day", y1: "lower", y2: "upper", fill: css("--wash"), curve: "step-after" }),
      Plot.ruleX([30, 91, 182], { stroke: css("--line-strong"), strokeDasharray: "4 3" }),
      Plot.line(rows, { x: "day", y: "done", stroke: css("--accent"), curve: "step-after" }),
      Plot.line(rows, { x: "day", y: "doneCompeting", stroke: css("--missed"), strokeDasharray: "6 3", curve: "step-after" }),
      Plot.text(rows.slice(-1), { x: "day", y: "done", text: () => "if nobody left", textAnchor: "end", dy: -8, fill: css("--accent") }),
      Plot.text(rows.slice(-1), { x: "day", y: "doneCompeting", text: () => "as it happens", textAnchor: "end", dy: 12, fill: css("--missed") }),
    ],
  }));

  // One test: [{ hz, level, noise, snr }], level and noise in dB SPL.
  kinds.bands = (rows, width) => {
    const at = d => String(d.hz), of = d => `${d.hz} Hz: level ${d.level ?? "not reported"}, noise floor ${d.noise ?? "not reported"}, signal to noise ${d.snr ?? "not known"} dB`;
    return Plot.plot(base(Math.min(width, 360), {
      height: 170, marginLeft: 40,
      x: { type: "band", label: "Hz", domain: rows.map(at), padding: 0.4 },
      y: { label: "dB SPL", grid: true },
      marks: [
        Plot.ruleX(rows.filter(d => d.level !== null && d.noise !== null), { x: at, y1: "noise", y2: "level", stroke: css("--line-strong") }),
        Plot.tickY(rows.filter(d => d.noise !== null), { x: at, y: "noise", stroke: css("--late"), strokeWidth: 3 }),
        Plot.dot(rows.filter(d => d.level !== null), { x: at, y: "level", r: 5, fill: css("--accent"), title: of }),
      ],
    }));
  };

  window.registryCharts = kinds;
  for (const figure of document.querySelectorAll("figure[data-chart]")) {
    const draw = kinds[figure.dataset.chart];
    const block = figure.querySelector('script[type="application/json"]');
    if (!draw || !block) continue;
    const drawing = draw(JSON.parse(block.textContent), Math.max(280, figure.clientWidth));
    // It is one picture with one name: names of its layers belong to nothing.
    for (const layer of drawing.querySelectorAll("[aria-label]")) layer.removeAttribute("aria-label");
    drawing.setAttribute("role", "img");
    drawing.setAttribute("aria-label", figure.getAttribute("aria-label"));
    figure.insertBefore(drawing, block);
  }
})();
