"use strict";
// The last two days as curves, and the year as months. Lines differ by dashes and by their name, not by colour alone.

const curves = (() => {
  const { el, svg } = tree;
  const HEIGHT = 170, STRIP = 16, LEFT = 54, RIGHT = 8, TOP = 8, BOTTOM = 18;
  const DASHES = ["", "7 3", "2 3", "9 3 2 3"];
  const NAMES = { ceiling: "under the roof", bench: "among the crop", outdoor: "outdoors" };

  // Steps of a scale that a person would choose.
  function ticks(low, high) {
    const step = [1, 2, 5, 10, 20, 50].find((size) => (high - low) / size <= 5) || 100;
    const first = Math.ceil(low / step) * step;
    return Array.from({ length: Math.floor((high - first) / step) + 1 }, (_, n) => first + n * step);
  }

  // What every chart of one message shares: where a step lies, and which times stand below.
  function frame(message, width, now_ms) {
    const lists = [...judge.list(message.temperatures).map((line) => line.mean_c), ...judge.list(message.motors).map((line) => line.on_percent)];
    const count = Math.max(1, ...lists.map((list) => (Array.isArray(list) ? list.length : 0)));
    const step_s = words.isNumber(message.step_s) && message.step_s > 0 ? message.step_s : 900;
    const at = words.parsed(message.at);
    const end_ms = at === null ? null : at.getTime() - 1000 * (message.since_last_step_s || 0);
    const span = Math.max(count, 4);
    const x = (step) => LEFT + ((span - count + step) / span) * (width - LEFT - RIGHT);
    return { count, end_ms, now_ms, span, step_s, width, x };
  }

  // Midnights and noons, or hours back where the board has no clock.
  function times(of) {
    const marks = [];
    for (let step = of.count - of.span; step <= of.count; step += 1) {
      const back_s = (of.count - step) * of.step_s;
      if (of.end_ms === null) {
        if (back_s % (12 * 3600) === 0 && back_s > 0) marks.push([step, `−${back_s / 3600} h`]);
        continue;
      }
      const time = new Date(of.end_ms - 1000 * back_s), before = new Date(time.getTime() - 1000 * of.step_s);
      const hour = time.getHours();
      if (hour !== before.getHours() && hour % 6 === 0 && (hour % 12 === 0 || of.width > 500)) marks.push([step, `${hour}:00`]);
    }
    return marks;
  }

  function axis(of, bottom) {
    return times(of).map(([step, text]) => [
      svg("line", { x1: of.x(step), x2: of.x(step), y1: TOP, y2: bottom, class: "grid" }),
      svg("text", { x: of.x(step), y: bottom + 13, "text-anchor": "middle" }, text),
    ]);
  }

  function known(line) {
    return (Array.isArray(line.mean_c) ? line.mean_c : []).filter(words.isNumber);
  }

  // Lines with gaps where nothing is known.
  function path(values, of, y) {
    let text = "", pen = false;
    values.forEach((value, n) => {
      if (words.isNumber(value)) text += `${pen ? "L" : "M"}${of.x(n + 0.5).toFixed(1)} ${y(value).toFixed(1)}`;
      pen = words.isNumber(value);
    });
    return text;
  }

  function chart(title, lines, unit, of) {
    const all = lines.flatMap(([, line]) => known(line)).map((celsius) => words.inUnit(celsius, unit));
    if (all.length === 0) return null;
    const low = Math.floor(Math.min(...all) - 0.5), high = Math.ceil(Math.max(...all) + 0.5);
    const bottom = HEIGHT - BOTTOM;
    const y = (shown) => TOP + ((high - shown) / (high - low)) * (bottom - TOP);
    return el("figure", {},
      el("figcaption", {}, title, el("ul", { class: "key" }, lines.map(([name, line], n) => el("li", { "data-line": n },
        svg("svg", { viewBox: "0 0 26 8", class: "dash", "aria-hidden": "true" }, svg("path", { d: "M0 4h26", "stroke-dasharray": DASHES[n % 4] })), summary(name, line, unit))))),
      svg("svg", { width: of.width, height: HEIGHT, class: "chart", "aria-hidden": "true" },
        ticks(low, high).map((value) => [
          svg("line", { x1: LEFT, x2: of.width - RIGHT, y1: y(value), y2: y(value), class: value === (unit === "°F" ? 32 : 0) ? "frost" : "grid" }),
          svg("text", { x: LEFT - 5, y: y(value) + 4, "text-anchor": "end" }, String(value).replace("-", "−")),
        ]),
        axis(of, bottom),
        lines.map(([, line], n) => svg("path", {
          d: path(line.mean_c.map((c) => (words.isNumber(c) ? words.inUnit(c, unit) : null)), of, y), class: "line", "data-line": n, "stroke-dasharray": DASHES[n % 4],
        }))));
  }

  // A line in words, which is also all that a screen reader needs of it.
  function summary(name, line, unit) {
    const values = known(line);
    if (values.length === 0) return `${name}: nothing known`;
    const last = line.mean_c[line.mean_c.length - 1];
    const whole = (celsius) => words.temperature(celsius, unit, 0).replace(` ${unit}`, "");
    return `${name} ${whole(Math.min(...values))} to ${whole(Math.max(...values))}${words.isNumber(last) ? `, last ${words.temperature(last, unit)}` : ""}`;
  }

  // When fans and pumps ran: a bar as high as the share of the step.
  function strips(motors, of) {
    const rows = motors.filter((motor) => Array.isArray(motor.on_percent));
    if (rows.length === 0) return null;
    const hours = (motor) => motor.on_percent.filter(words.isNumber).reduce((sum, percent) => sum + percent, 0) / 100 * of.step_s;
    const bottom = TOP + rows.length * (STRIP + 4);
    const wide = Math.max(1, of.x(1) - of.x(0));
    return el("figure", {},
      el("figcaption", {}, "Fans and pumps", el("ul", { class: "key" }, rows.map((motor) => el("li", {},
        `${motor.what} ${motor.name}: ${hours(motor) > 0 ? `on for ${words.duration(hours(motor))}` : "always off"}`)))),
      svg("svg", { width: of.width, height: bottom + BOTTOM, class: "chart", "aria-hidden": "true" },
        axis(of, bottom),
        rows.map((motor, row) => {
          const foot = TOP + row * (STRIP + 4) + STRIP;
          const bars = motor.on_percent.map((percent, n) => (percent > 0
            ? `M${of.x(n).toFixed(1)} ${foot}h${wide.toFixed(1)}v-${(percent / 100 * STRIP).toFixed(1)}h-${wide.toFixed(1)}z` : "")).join("");
          return [
            svg("line", { x1: LEFT, x2: of.width - RIGHT, y1: foot, y2: foot, class: "grid" }),
            svg("text", { x: LEFT - 5, y: foot - 3, "text-anchor": "end" }, shortened(String(motor.name))),
            svg("path", { d: bars, class: motor.what === "fan" ? "fan" : "pump" }),
          ];
        })));
  }

  const shortened = (name) => (name.length > 7 ? `${name.slice(0, 6)}…` : name);

  function twoDays(kept, unit, width, now_ms) {
    if (!kept) return [el("h2", {}, "Last two days"), el("p", {}, "The controller sends its curves every quarter of an hour; none has come yet.")];
    const message = kept.message, of = frame(message, width, now_ms);
    const lines = judge.list(message.temperatures).filter((line) => Array.isArray(line.mean_c));
    const air = lines.filter((line) => line.what in NAMES && known(line).length > 0).map((line) => [NAMES[line.what], line]);
    const soil = lines.filter((line) => line.what === "soil" && known(line).length > 0).map((line) => [String(line.loop), line]);
    const end = of.end_ms === null ? "" : ` Up to ${words.moment(new Date(of.end_ms), new Date(now_ms))}.`;
    return [
      el("h2", {}, "Last two days"),
      el("p", { class: "small" }, `Means of ${words.duration(of.step_s)}; a gap where nothing could be believed.${end}`),
      chart(`Air, ${unit}`, air, unit, of),
      chart(`Soil at the tubes, ${unit}`, soil, unit, of),
      strips(judge.list(message.motors), of),
    ];
  }

  function year(kept, unit) {
    const months = kept ? judge.list(kept.message.months) : [];
    if (months.length === 0) return [];
    const most = Math.max(...months.flatMap((month) => [month.banked_j, month.returned_j]).filter(words.isNumber), 1);
    const bar = (joules, kind) => svg("svg", { class: `bar ${kind}`, viewBox: "0 0 100 8", preserveAspectRatio: "none", "aria-hidden": "true" },
      svg("rect", { width: Math.max(0, joules / most * 100) || 0, height: 8 }));
    const sum = (key) => months.reduce((total, month) => total + (words.isNumber(month[key]) ? month[key] : 0), 0);
    return [
      el("h2", {}, "The year's heat"),
      el("p", {}, `${words.energy(sum("banked_j"))} into the soil, ${words.energy(sum("returned_j"))} out of it, for ${words.energy(sum("electricity_j"))} of electricity.`),
      el("table", {},
        el("thead", {}, el("tr", {}, ["Month", "Into the soil", "Out of it", "Coldest air"].map((text) => el("th", { scope: "col" }, text)))),
        el("tbody", {}, months.map((month) => el("tr", {},
          el("th", { scope: "row" }, words.month(month.month)),
          el("td", {}, bar(month.banked_j, "down"), words.energy(month.banked_j)),
          el("td", {}, bar(month.returned_j, "up"), words.energy(month.returned_j)),
          el("td", {}, words.isNumber(month.air_min_c) ? words.temperature(month.air_min_c, unit) : "unknown"))))),
    ];
  }

  return { twoDays, year };
})();
