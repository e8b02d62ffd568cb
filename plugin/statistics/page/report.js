"use strict";
// Charts and sorting. The page says everything without this: the charts only draw what stands in its tables.
(() => {
  const report = JSON.parse(document.getElementById("report").textContent);
  const css = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  const seconds = (day) => Date.parse(`${day}T00:00:00Z`) / 1000;
  const percent = (value) => (value === null || value === undefined ? "–" : `${(100 * value).toFixed(1)} %`);
  const day = 86400;

  function axis(values) {
    return { stroke: css("--ink"), grid: { stroke: css("--line"), width: 1 }, ticks: { stroke: css("--line") }, values };
  }

  function draw(id, options, data) {
    const place = document.getElementById(id);
    if (place === null) return;
    const width = () => Math.max(280, Math.min(1100, place.clientWidth));
    const chart = new uPlot({ width: width(), height: 280, ...options }, data, place);
    new ResizeObserver(() => chart.setSize({ width: width(), height: 280 })).observe(place);
    for (const canvas of place.querySelectorAll("canvas")) canvas.setAttribute("aria-hidden", "true");
  }

  // What stands out, as stripes from the first to the last day.
  function stripes(chart) {
    const { ctx, bbox } = chart;
    ctx.save();
    ctx.fillStyle = css("--mark");
    report.signals.forEach((signal, index) => {
      const from = Math.max(bbox.left, chart.valToPos(seconds(signal.from.slice(0, 10)), "x", true));
      const to = Math.min(bbox.left + bbox.width, chart.valToPos(seconds(signal.to.slice(0, 10)) + day, "x", true));
      if (to <= from) return;
      ctx.globalAlpha = 0.14;
      ctx.fillRect(from, bbox.top, to - from, bbox.height);
      ctx.globalAlpha = 1;
      ctx.font = `${Math.round(13 * devicePixelRatio)}px system-ui, sans-serif`;
      ctx.fillText(String(index + 1), from + 3, bbox.top + (16 + 16 * index) * devicePixelRatio);
    });
    ctx.restore();
  }

  function daysChart() {
    const days = report.figures.by_day;
    if (days.length < 2) return;
    const mean = report.figures.all.refused_for_the_note.rate;
    // Three standard deviations of the binomial about the mean of the period: a p-chart's limits (NIST handbook, 6.3.3.2).
    const wide = days.map((each) => 3 * Math.sqrt(mean * (1 - mean) / Math.max(1, each.refused_for_the_note.of)));
    const ink = css("--ink");
    draw("chart-days", {
      scales: { y: { range: (chart, least, most) => [0, Math.max(most * 1.1, 0.01)] } },
      axes: [axis((chart, values) => values.map((value) => new Date(value * 1000).toISOString().slice(5, 10))),
        axis((chart, values) => values.map(percent))],
      hooks: { drawAxes: [stripes] },
      series: [
        { value: "{YYYY}-{MM}-{DD}" },
        { label: "refused for the note", stroke: css("--lead"), width: 1, points: { show: true, size: 6, fill: css("--lead") }, value: (chart, value) => percent(value) },
        { label: "mean", stroke: ink, dash: [4, 4], value: (chart, value) => percent(value), points: { show: false } },
        { label: "upper limit", stroke: css("--mark"), value: (chart, value) => percent(value), points: { show: false }, paths: uPlot.paths.stepped({ align: 0 }) },
        { label: "lower limit", stroke: css("--mark"), value: (chart, value) => percent(value), points: { show: false }, paths: uPlot.paths.stepped({ align: 0 }) },
      ],
      tzDate: (moment) => uPlot.tzDate(new Date(moment * 1000), "Etc/UTC"),
    }, [
      days.map((each) => seconds(each.day)),
      days.map((each) => each.refused_for_the_note.rate),
      days.map(() => mean),
      wide.map((each) => Math.min(1, mean + each)),
      wide.map((each) => Math.max(0, mean - each)),
    ]);
  }

  // Wilson's score interval, as the library's own (statistics/interval.c).
  function wilson(count, of) {
    const z = 1.959963984540054;
    const rate = count / of;
    const middle = (rate + z * z / (2 * of)) / (1 + z * z / of);
    const half = z * Math.sqrt(rate * (1 - rate) / of + z * z / (4 * of * of)) / (1 + z * z / of);
    return { rate, lower: Math.max(0, middle - half), upper: Math.min(1, middle + half) };
  }

  // By value: a machine that accepts a note seldom tells its series, so series have refusals alone.
  function values() {
    const sums = new Map();
    for (const each of report.figures.by_note) {
      if (each.currency === null) continue;
      const name = `${each.currency} ${each.value_minor}`;
      const sum = sums.get(name) ?? { currency: each.currency, value_minor: each.value_minor, count: 0, of: 0 };
      sum.count += each.refused_for_the_note.count;
      sum.of += each.refused_for_the_note.of;
      sums.set(name, sum);
    }
    return [...sums.values()].filter((each) => each.of > 0)
      .sort((one, other) => one.currency.localeCompare(other.currency) || one.value_minor - other.value_minor)
      .map((each) => ({ ...each, ...wilson(each.count, each.of) }));
  }

  function valueName(each) {
    const digits = new Intl.NumberFormat("en", { style: "currency", currency: each.currency }).resolvedOptions().maximumFractionDigits;
    return `${each.currency} ${each.value_minor / 10 ** digits}`;
  }

  function notesChart() {
    const notes = values();
    if (notes.length === 0) return;
    const whiskers = (chart) => {
      const { ctx } = chart;
      ctx.save();
      ctx.strokeStyle = css("--ink");
      ctx.lineWidth = 2 * devicePixelRatio;
      notes.forEach((each, index) => {
        const x = chart.valToPos(index, "x", true);
        ctx.beginPath();
        ctx.moveTo(x, chart.valToPos(each.lower, "y", true));
        ctx.lineTo(x, chart.valToPos(each.upper, "y", true));
        ctx.stroke();
      });
      ctx.restore();
    };
    const most = Math.max(...notes.map((each) => each.upper));
    draw("chart-notes", {
      scales: { x: { time: false, range: [-0.6, notes.length - 0.4] }, y: { range: [0, most * 1.1] } },
      axes: [{ ...axis((chart, values) => values.map((value) => (Number.isInteger(value) && notes[value] ? valueName(notes[value]) : ""))),
        splits: () => notes.map((each, index) => index), rotate: notes.length > 6 ? -35 : 0, size: notes.length > 6 ? 90 : 50 },
      axis((chart, values) => values.map(percent))],
      hooks: { draw: [whiskers] },
      series: [
        { value: (chart, value) => (notes[value] ? valueName(notes[value]) : "") },
        { label: "refused for the note", stroke: css("--lead"), fill: `${css("--lead")}55`, paths: uPlot.paths.bars({ size: [0.6, 60] }),
          points: { show: false }, value: (chart, value) => percent(value) },
      ],
    }, [notes.map((each, index) => index), notes.map((each) => each.rate)]);
  }

  // ---- Tables that sort ----

  function sort(table, column, header) {
    const down = header.getAttribute("aria-sort") === "descending";
    for (const each of table.tHead.rows[0].cells) each.removeAttribute("aria-sort");
    header.setAttribute("aria-sort", down ? "ascending" : "descending");
    const key = (row) => row.cells[column].dataset.key ?? row.cells[column].textContent;
    const rows = [...table.tBodies[0].rows].sort((one, other) => {
      const [a, b] = [key(one), key(other)];
      const order = a !== "" && b !== "" && !Number.isNaN(Number(a)) && !Number.isNaN(Number(b)) ? Number(a) - Number(b) : a.localeCompare(b);
      return down ? order : -order;
    });
    table.tBodies[0].append(...rows);
  }

  for (const table of document.querySelectorAll("table.sorts")) {
    [...table.tHead.rows[0].cells].forEach((header, column) => {
      const press = document.createElement("button");
      press.type = "button";
      press.append(...header.childNodes);
      press.addEventListener("click", () => sort(table, column, header));
      header.append(press);
    });
  }

  for (const figure of document.querySelectorAll("figure[hidden]")) figure.hidden = false;
  daysChart();
  notesChart();
})();
