"use strict";
// All houses of a broker, one line each: the ones that need somebody first.

const sites = (() => {
  const { el, shape } = tree;
  const WORDS = {
    away: "not known", stopped: "stopped", lost: "connection lost", silent: "silent", stale: "not fresh", fresh: "online",
  };
  const ORDER = ["act now", "unknown", "today", "this week", "fine"];

  function line(heard, connected, now) {
    const fact = judge.state(heard, connected, now.getTime());
    const status = heard.status && heard.status.message;
    const calling = judge.alarms(heard).filter((alarm) => !judge.isQuiet(alarm));
    const worst = calling.length > 0 ? String(calling[0].priority) : "fine";
    const air = status && status.house ? (status.house.bench.temperature_c === null ? status.house.ceiling : status.house.bench) : null;
    const loops = status ? judge.list(status.loops) : [];
    return {
      kind: fact.kind === "fresh" ? worst : "unknown",
      name: String((status && status.title) || heard.site),
      site: heard.site,
      state: WORDS[fact.kind],
      alarm: !status ? "unknown" : calling.length === 0 ? "none" : `${words.sentence(worst)}: ${calling[0].code}${calling.length > 1 ? ` and ${calling.length - 1} more` : ""}`,
      air: air ? words.measured(air, status.unit).text : "unknown",
      fans: status ? `${loops.filter((loop) => loop.fan_on).length} of ${loops.length} on` : "unknown",
      age: fact.age_s === null ? "unknown" : words.duration(fact.age_s),
      old: fact.kind !== "fresh",
    };
  }

  // A house whose message makes no sense is named all the same.
  function safely(heard, connected, now) {
    try {
      return line(heard, connected, now);
    } catch (problem) {
      return { kind: "unknown", name: heard.site, site: heard.site, state: "message cannot be read", alarm: "unknown", air: "unknown", fans: "unknown", age: "unknown", old: true };
    }
  }

  // The line on top: whether somebody is needed anywhere.
  function summary(all, now) {
    const lines = all.map((heard) => safely(heard, true, now)), needing = lines.filter((row) => row.kind !== "fine");
    const worst = ORDER.find((kind) => lines.some((row) => row.kind === kind)) || "fine";
    const needed = needing.length === 0 ? "No alarm calls." : `${words.count(needing.length, "needs", "need")} somebody to look.`;
    return [worst, `${words.count(all.length, "house", "houses")}.`, all.length > 0 && needed];
  }

  function table(all, connected, now) {
    if (all.length === 0) return [el("p", {}, connected ? "No house has said anything to this broker yet." : "Nothing has been heard yet.")];
    const lines = all.map((heard) => safely(heard, connected, now));
    lines.sort((a, b) => ORDER.indexOf(a.kind) - ORDER.indexOf(b.kind) || a.name.localeCompare(b.name));
    const was = (row, text) => (row.old && text !== "unknown" ? `was ${text}` : text);
    return el("table", { class: "sites" },
      el("thead", {}, el("tr", {}, ["House", "State", "Worst alarm", "Air", "Fans", "Heard"].map((text) => el("th", { scope: "col" }, text)))),
      el("tbody", {}, lines.map((row) => el("tr", { "data-urgency": row.kind },
        el("th", { scope: "row" }, shape(row.kind), el("a", { href: `#${encodeURIComponent(row.site)}`, id: `house-${row.site}` }, row.name)),
        el("td", { "data-label": "State" }, row.state),
        el("td", { "data-label": "Worst alarm" }, was(row, row.alarm)),
        el("td", { "data-label": "Air" }, was(row, row.air)),
        el("td", { "data-label": "Fans" }, was(row, row.fans)),
        el("td", { "data-label": "Heard" }, row.age === "unknown" ? row.age : `${row.age} ago`)))));
  }

  return { summary, table };
})();
