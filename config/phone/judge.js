"use strict";
// What has been heard of a house, and what of it may be believed now. Nothing here touches the page.

const judge = (() => {
  const URGENCY = ["act now", "today", "this week"];
  const KEPT = ["online", "status", "curves", "year", "tonight"];

  // A house of which nothing has been heard yet.
  const nothing = (site) => ({
    site, online: null, status: null, curves: null, year: null, tonight: null, alarms: new Map(),
  });

  // Whether an alarm calls nobody: somebody has seen it, or it is about the crop of an empty house.
  const isQuiet = (alarm) => alarm.seen === true || alarm.muted === true;

  const isObject = (value) => typeof value === "object" && value !== null && !Array.isArray(value);
  const list = (value) => (Array.isArray(value) ? value.filter(isObject) : []);

  // Take a message in. `heard_ms` is the phone's time; a retained message may be much older than that.
  function take(house, topic, text, retained, heard_ms) {
    const [kind, code] = topic.split("/").slice(2);
    let message = null;
    if (text !== "") {
      try {
        message = JSON.parse(text);
      } catch (problem) {
        return;
      }
      if (!isObject(message)) return;
    }
    if (kind === "alarm") {
      if (message === null) house.alarms.delete(code);
      else house.alarms.set(code, message);
    } else if (KEPT.includes(kind)) {
      house[kind] = message === null ? null : { message, retained, heard_ms };
    }
  }

  // How far the phone's clock is ahead of the board's, in ms: known as soon as a message has come fresh.
  function skew_ms(house) {
    const kept = house.status;
    const at = kept && !kept.retained ? words.parsed(kept.message.at) : null;
    return at === null ? 0 : kept.heard_ms - at.getTime();
  }

  // Seconds since a kept message was true; null where nobody can know.
  function age_s(kept, now_ms, ahead_ms = 0) {
    if (!kept.retained) return (now_ms - kept.heard_ms) / 1000;
    const at = words.parsed(kept.message.at);
    return at === null ? null : Math.max(0, (now_ms - ahead_ms - at.getTime()) / 1000);
  }

  // What to make of the house: {kind, age_s, at}. Kinds, worst first: away (the broker), stopped, lost, silent, stale, fresh.
  function state(house, connected, now_ms) {
    const kept = house.status, online = house.online;
    const age = kept ? age_s(kept, now_ms, skew_ms(house)) : null;
    const at = kept ? words.parsed(kept.message.at) : null;
    const said = online ? words.parsed(online.message.at) : null;
    const fact = { age_s: age, at, said, clock_set: !kept || kept.message.clock_set !== false };
    if (!connected) return { ...fact, kind: "away" };
    if (online && online.message.online === false) {
      return { ...fact, kind: online.message.why === "stopped" ? "stopped" : "lost" };
    }
    if (!kept) return { ...fact, kind: "silent" };
    const valid_s = words.isNumber(kept.message.valid_for_s) ? kept.message.valid_for_s : Infinity;
    return { ...fact, kind: age === null || age > valid_s ? "stale" : "fresh" };
  }

  // Alarms, most urgent first, those that somebody has seen last; from the status, or as the broker keeps them without one.
  function alarms(house) {
    const found = house.status ? list(house.status.message.alarms) : [...house.alarms].flatMap(
      ([code, alarm]) => list(alarm.subjects).map((subject) => ({ code, ...alarm, ...subject })));
    const rank = (alarm) => (isQuiet(alarm) ? 10 : 0) + [...URGENCY, alarm.priority].indexOf(alarm.priority);
    return found.map((alarm, n) => [rank(alarm), n, alarm]).sort((a, b) => a[0] - b[0] || a[1] - b[1]).map((row) => row[2]);
  }

  return { age_s, alarms, isQuiet, list, nothing, skew_ms, state, take };
})();
