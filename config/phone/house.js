"use strict";
// What is shown of one house: every function makes one section out of what has been heard.

const house = (() => {
  const { el, svg, shape } = tree;

  const DOING = {
    "frost": "keeping frost off", "heat": "warming the house", "cool": "cooling the house", "bank": "banking heat",
    "night-purge": "cooling the soil by night", "plain": "on", "trial": "weekly test of the fan",
  };
  const PROVEN = {
    "purging": "too early to prove", "proven": "proven at the outlet", "weak": "too little at the outlet",
    "not testable": "the outlet cannot prove it now",
  };
  const NOT_FITTED = "is not fitted";

  // The line on top: what state the house is in, in words, and what may be believed.
  function state(fact, now, alarms) {
    const when = fact.at === null ? "" : words.moment(fact.at, now);
    const ago = fact.age_s === null ? "nobody can say how long ago" : `${words.duration(fact.age_s)} ago`;
    const old = when ? `Below is what was true at ${when} (${ago}).` : `Below is what was last heard (${ago}).`;
    switch (fact.kind) {
      case "away":
        return ["unknown", "The broker cannot be reached.",
          fact.age_s === null && !when ? "Nothing has been heard yet. This page tries again by itself." : `${old} This page tries again by itself.`];
      case "stopped":
        return ["unknown", fact.said ? `The controller was stopped at ${words.moment(fact.said, now)}.` : "The controller was stopped.",
          `Every fan and pump is off, and nobody looks after the house. ${old}`];
      case "lost":
        return ["unknown", "The controller has lost the broker.",
          `Its network, its power or the program itself is gone. From here nobody can see what the fans and pumps do. ${old}`];
      case "silent":
        return ["unknown", "No status.",
          "The broker has none that still holds. Either the controller has been silent for minutes, or this house has no such name."];
      case "stale":
        return ["unknown", "Not fresh.", `${old} It must not be taken for the present: the controller is silent.`];
      default: {
        const calling = alarms.filter((alarm) => !judge.isQuiet(alarm));
        const clock = fact.clock_set ? "" : " The board's clock is not set, so times are left out.";
        if (calling.length === 0) return ["fine", "No alarm calls.", `Heard ${ago}.${clock}`];
        const worst = String(calling[0].priority), more = calling.length > 1 ? ` and ${calling.length - 1} more` : "";
        return [worst, `${words.sentence(worst)}: ${calling[0].code}${more}.`, `Heard ${ago}.${clock}`];
      }
    }
  }

  function alarms(found, leftOut, old, now) {
    if (found.length === 0) return [];
    return [
      el("h2", {}, old ? "Alarms as they stood" : "Alarms"),
      el("ul", { class: "alarms" }, found.map((alarm) => el("li", { "data-urgency": judge.isQuiet(alarm) ? "quiet" : alarm.priority },
        shape(alarm.priority, judge.isQuiet(alarm)),
        el("div", {},
          el("h3", {}, `${words.sentence(String(alarm.priority))}: ${alarm.code}`, alarm.subject ? ` (${alarm.subject})` : ""),
          el("p", { class: "small" }, `${since(alarm, now)} · act ${words.howSoon(alarm.time_to_act_s)}`, quiet(alarm, now)),
          alarm.detail && el("p", {}, words.sentence(alarm.detail)),
          el("dl", { class: "what" },
            el("dt", {}, "Do"), el("dd", { class: "do" }, words.sentence(alarm.action)),
            el("dt", {}, "Cause"), el("dd", {}, words.sentence(alarm.cause)),
            el("dt", {}, "If nobody acts"), el("dd", {}, words.sentence(alarm.consequence))))))),
      leftOut > 0 && el("p", {}, `And ${leftOut} more.`),
    ];
  }

  function since(alarm, now) {
    const begun = words.parsed(alarm.since);
    return begun === null ? `for ${words.duration(alarm.since_s)}` : `since ${words.moment(begun, now)}`;
  }

  function quiet(alarm, now) {
    if (alarm.muted) return " · muted, the house is empty";
    if (!alarm.seen) return "";
    const at = words.parsed(alarm.seen_at);
    return ` · seen by somebody${at === null ? "" : ` at ${words.moment(at, now)}`}`;
  }

  // The house cut open: air above the ground line, soil below it.
  function now(status, old) {
    const unit = status.unit, air = status.house || {};
    const row = (label, reading, ...small) => {
      const value = words.measured(reading, unit);
      return el("div", { class: "row" }, el("dt", {}, label, small.some(Boolean) && el("small", {}, ...small)),
        el("dd", { class: value.known ? "number" : "why" }, old && value.known && el("span", { class: "was" }, "was "), value.text));
    };
    const fitted = (reading) => reading && reading.why !== NOT_FITTED;
    const beside = (name, reading) => (fitted(reading) ? `${name} ${words.measured(reading, unit).text}` : "");
    return [
      el("h2", {}, "Now"),
      !old && air.people && el("p", { class: "callout" }, shape("act now"), el("span", {}, air.people)),
      !old && status.advice && el("p", { class: "callout" }, shape("advice"), el("span", {}, `${words.sentence(status.advice)}.`)),
      status.house_empty && el("p", {}, "Somebody has said that the house is empty: alarms of the crop call nobody."),
      el("dl", { class: "air" },
        fitted(air.outdoor) && row("Outdoors", air.outdoor),
        fitted(air.ceiling) && row("Under the roof", air.ceiling),
        fitted(air.bench) && row("Among the crop", air.bench)),
      el("dl", { class: "ground" }, judge.list(status.loops).map((loop) => row(`Soil, ${loop.name}`, loop.soil,
        [beside("roots", loop.root_zone), beside("outlet", loop.outlet)].filter(Boolean).join(" · ")))),
      today(status),
    ];
  }

  function today(status) {
    const day = status.today;
    if (!day || !words.isNumber(day.covered_s)) return null;
    const air = words.isNumber(day.air_min_c) ? `air ${words.temperature(day.air_min_c, status.unit)} to ${words.temperature(day.air_max_c, status.unit)}, ` : "";
    return el("p", { class: "small" }, `Today: ${air}${words.energy(day.banked_j)} into the soil, ${words.energy(day.returned_j)} out of it, ` +
      `${words.energy(day.electricity_j)} of electricity.`);
  }

  // An arrow for where the heat goes: down into the soil, up out of it; a ring for a fan that stands.
  function arrow(loop) {
    const up = loop.demand === "frost" || loop.demand === "heat";
    const path = !loop.fan_on ? "M10 3a7 7 0 1 0 .01 0z" : up ? "M10 1l8 9h-5v9H7v-9H2z" : "M7 1h6v9h5l-8 9-8-9h5z";
    return svg("svg", { viewBox: "0 0 20 20", class: `shape ${loop.fan_on ? (up ? "up" : "down") : "hollow"}`, "aria-hidden": "true" },
      svg("path", { d: path }));
  }

  function fans(status, age_s, old) {
    return [
      el("h2", {}, "Fans"),
      judge.list(status.loops).map((loop) => {
        const locks = Array.isArray(loop.lockouts) ? loop.lockouts : [];
        const doing = loop.fan_on ? DOING[loop.demand] || "on" : locks.length ? "off, may not run now" : "off";
        const heat = words.isNumber(loop.heat_w)
          ? ` · ${words.power(Math.abs(loop.heat_w))} ${loop.heat_w < 0 ? "out of" : "into"} the soil, ${PROVEN[loop.proof] || loop.proof}` : "";
        return el("article", {}, arrow(loop), el("div", {},
          el("h3", {}, `${loop.name}: ${old ? "was " : ""}${doing}`),
          el("p", { class: "small" }, `for ${words.duration((loop.since_s || 0) + (old ? 0 : age_s || 0))}${heat}`),
          el("p", {}, `${words.sentence(String(loop.reason))}.`),
          locks.length > 0 && el("p", {}, `May not run: ${locks.join("; ")}.`),
          el("p", { class: "small" }, `Today ${words.count(loop.starts_today, "start", "starts")}, ${words.duration(loop.run_today_s)}, ` +
            `${words.energy(loop.electricity_today_j)}; ${words.energy(loop.banked_today_j)} into the soil, ${words.energy(loop.returned_today_j)} out of it`)));
      }),
    ];
  }

  function water(status, old) {
    return [
      el("h2", {}, "Water"),
      judge.list(status.sumps).map((sump) => {
        const level = sump.water === "unknown" ? `water level unknown (the float ${sump.why})` : sump.water === "wet" ? "float up, water in the sump" : "dry";
        const drop = sump.water === "dry" ? "M10 2l6 9a6 6 0 1 1-12 0z" : sump.water === "wet" ? "M10 2l6 9a6 6 0 1 1-12 0z" : "M3 3l14 14M17 3L3 17";
        return el("article", {},
          svg("svg", { viewBox: "0 0 20 20", class: `shape ${sump.water === "wet" ? "wet" : "hollow"}`, "aria-hidden": "true" }, svg("path", { d: drop })),
          el("div", {},
            el("h3", {}, `${sump.name}: ${old ? "was " : ""}${level}; pump ${sump.pump_on ? "on" : "off"}`),
            el("p", {}, `${words.sentence(String(sump.reason))}.`),
            el("p", { class: "small" }, `Today ${words.count(sump.starts_today, "start", "starts")}, ${words.duration(sump.run_today_s)}`,
              words.isNumber(sump.usual_empty_s) && ` · usually empty after ${words.duration(sump.usual_empty_s)}`)));
      }),
    ];
  }

  const HEATER = { "needed": "act now", "keep it ready": "today", "not needed": "fine" };

  // How cold the night may get; a controller that does not publish it has no such section.
  function tonight(kept, unit, fact, now) {
    const message = kept.message, age_s = judge.age_s(kept, now.getTime());
    if (typeof message.words !== "string") return [];
    const old = age_s === null || (words.isNumber(message.valid_for_s) && age_s > message.valid_for_s) || fact.kind !== "fresh";
    const heading = el("h2", {}, old ? "Tonight, as it was expected" : "Tonight");
    if (!words.isNumber(message.low_c)) return [heading, el("p", {}, `${words.sentence(message.words)}.`)];
    const bare = (celsius) => words.temperature(celsius, unit).replace(` ${unit}`, "");
    const span = (low, high) => (words.isNumber(low) && words.isNumber(high) ? ` (${bare(low)} to ${bare(high)})` : "");
    const until = (label, text) => (words.parsed(text) === null ? label : `${label} ${words.moment(words.parsed(text), now)}`);
    const part = (term, text) => text && el("div", { class: "row" }, el("dt", {}, term), el("dd", {}, text));
    return [
      heading,
      el("p", { class: "lead" }, `About ${words.temperature(message.low_c, unit)}${span(message.low_from_c, message.low_to_c)} among the crop`),
      message.heater && el("p", { class: "callout" }, shape(HEATER[message.heater] || "this week"),
        el("span", {}, `Heater: ${until(message.heater + (message.heater_from ? ", from" : ""), message.heater_from)}`)),
      el("dl", { class: "plain" },
        words.isNumber(message.without_store_c) && part("Without the store", `about ${words.temperature(message.without_store_c, unit)}${span(message.without_store_from_c, message.without_store_to_c)}`),
        message.store && part("The store", until(message.store, message.store_lasts_until)),
        words.isNumber(message.forecast_low_c) && part("Forecast that was given", words.temperature(message.forecast_low_c, unit))),
    ];
  }

  function checks(status, now) {
    const due = judge.list(status.by_hand).filter((check) => words.parsed(check.due) === null || words.parsed(check.due) <= now);
    const unseen = Array.isArray(status.not_monitored) ? status.not_monitored : [];
    return [
      due.length > 0 && el("details", { id: "by-hand" }, el("summary", { id: "by-hand-name" }, `${words.count(due.length, "check", "checks")} by hand due`),
        el("ul", {}, due.map((check) => el("li", {}, `${words.sentence(check.what)} (every ${check.every_days} days; hypocaust done ${check.name})`)))),
      unseen.length > 0 && el("details", { id: "unseen" }, el("summary", { id: "unseen-name" }, `${words.count(unseen.length, "thing", "things")} no signal shows`),
        el("ul", {}, unseen.map((text) => el("li", {}, words.sentence(String(text)))))),
    ];
  }

  function about(status) {
    const broken = status.promises_broken;
    return [
      broken > 0 && el("p", { class: "callout" }, shape("act now"), el("span", {}, `A safety rule was found broken ${words.count(broken, "time", "times")} since the start.`)),
      el("p", { class: "small" }, `hypocaust ${status.version}, running for ${words.duration(status.uptime_s)}`, status.settings && ` with ${status.settings}`,
        ". This page only reads; nothing here can switch anything."),
    ];
  }

  return { about, alarms, checks, fans, now, state, tonight, water };
})();
