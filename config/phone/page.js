"use strict";
// Puts the parts together: who is asked, what is shown, and when it is shown anew.

(() => {
  const { el, shape, show } = tree;
  const REDRAW_MS = 5000, KEY = "hypocaust";
  const at = (id) => document.getElementById(id);
  const houses = new Map();
  let account = null, site = "", connection = null, state = "connecting", close = () => {};

  // --- who is asked: kept on this phone, if its owner wants that ---

  function remembered() {
    try {
      return JSON.parse(localStorage.getItem(KEY) || sessionStorage.getItem(KEY)) || {};
    } catch (problem) {
      return {};
    }
  }

  function remember(kept, always) {
    try {
      sessionStorage.setItem(KEY, JSON.stringify(kept));
      if (always) localStorage.setItem(KEY, JSON.stringify(kept));
      else localStorage.removeItem(KEY);
    } catch (problem) {
      // A browser that keeps nothing asks again the next time.
    }
  }

  function usualUrl() {
    if (location.protocol === "http:") return `ws://${location.host}/`;
    return `wss://${location.hostname || "greenhouse.local"}:8443/`;
  }

  function askWho(problem) {
    const kept = remembered();
    at("login").hidden = false;
    document.body.classList.add("asking");
    at("problem").textContent = problem ? `${words.sentence(problem)}.` : "";
    at("url").value = kept.url || usualUrl();
    at("user").value = kept.user || "viewer";
    at("keep").checked = true;
    sayEncryption();
    at(problem ? "password" : "user").focus();
  }

  function sayEncryption() {
    at("encryption").textContent = at("url").value.startsWith("wss:")
      ? "Encrypted. This phone must trust the broker's certificate."
      : "Not encrypted: whoever is in this network can read the password and what the house says.";
  }

  at("url").addEventListener("input", sayEncryption);
  at("login").addEventListener("submit", (event) => {
    event.preventDefault();
    account = { url: at("url").value.trim(), user: at("user").value.trim(), password: at("password").value };
    at("password").value = "";
    remember(account, at("keep").checked);
    at("login").hidden = true;
    document.body.classList.remove("asking");
    connect();
  });
  at("leave").addEventListener("click", () => {
    close();
    houses.clear();
    remember({ url: account && account.url, user: account && account.user }, true);
    account = null;
    state = "away";
    draw();
    askWho("");
  });

  // --- what is heard ---

  function connect() {
    close();
    const mine = {};
    connection = mine;
    const topics = site === ""
      ? ["hypocaust/+/online", "hypocaust/+/status"]
      : ["online", "status", "tonight", "curves", "year", "alarm/#"].map((ending) => `hypocaust/${site}/${ending}`);
    close = link.open(account, topics, (topic, text, retained) => {
      if (connection !== mine) return;
      const name = topic.split("/")[1];
      if (!houses.has(name)) houses.set(name, judge.nothing(name));
      judge.take(houses.get(name), topic, text, retained, Date.now());
      drawSoon();
    }, (next, why) => {
      if (connection !== mine) return;
      if (next === "connecting" && state === "away") return; // still away until it succeeds
      state = next;
      draw();
      if (next === "refused") {
        close();
        askWho(why);
      }
    });
  }

  // --- what is shown ---

  let pending = 0;
  function drawSoon() {
    if (pending === 0) pending = setTimeout(draw, 50);
  }

  // A message that makes no sense costs its own section and nothing else.
  function section(id, make) {
    let made;
    try {
      made = make();
    } catch (problem) {
      made = [el("p", {}, "This part of the message cannot be read.")];
    }
    show(at(id), made);
    at(id).hidden = at(id).childNodes.length === 0;
  }

  function draw() {
    clearTimeout(pending);
    pending = 0;
    const now = new Date();
    if (site === "") drawSites(now);
    else drawHouse(now);
  }

  function drawSites(now) {
    document.title = "Houses";
    at("title").textContent = "Houses";
    for (const id of PARTS) at(id).hidden = id !== "sites";
    at("overview").hidden = true;
    document.body.classList.remove("old");
    const line = state === "connected" ? sites.summary([...houses.values()], now)
      : state === "connecting" ? ["unknown", "Connecting …", ""] : ["unknown", "The broker cannot be reached.", "This page tries again by itself."];
    showState(line);
    section("sites", () => sites.table([...houses.values()], state === "connected", now));
  }

  function drawHouse(now) {
    const heard = houses.get(site) || judge.nothing(site);
    const fact = judge.state(heard, state === "connected", now.getTime());
    const status = heard.status && heard.status.message, alarms = judge.alarms(heard);
    const old = fact.kind !== "fresh", unit = status && status.unit === "°F" ? "°F" : "°C";
    const title = status && typeof status.title === "string" && status.title ? status.title : site;
    document.title = title;
    at("title").textContent = title;
    at("overview").hidden = false;
    at("sites").hidden = true;
    document.body.classList.toggle("old", old);
    showState(state === "connecting" ? ["unknown", "Connecting …", ""] : house.state(fact, now, alarms));
    section("alarms", () => house.alarms(alarms, status ? status.alarms_left_out : 0, old, now));
    section("now", () => (status ? house.now(status, old) : []));
    section("tonight", () => (heard.tonight ? house.tonight(heard.tonight, unit, fact, now) : []));
    section("fans", () => (status ? house.fans(status, fact.age_s, old) : []));
    section("water", () => (status ? house.water(status, old) : []));
    const width = Math.min(at("curves").clientWidth || at("main").clientWidth, 930);
    section("curves", () => (status || heard.curves ? curves.twoDays(heard.curves, unit, width, now.getTime()) : []));
    section("year", () => curves.year(heard.year, unit));
    section("checks", () => (status ? house.checks(status, now) : []));
    section("about", () => (status ? house.about(status) : []));
  }

  const PARTS = ["alarms", "now", "tonight", "fans", "water", "curves", "year", "checks", "about", "sites"];

  function showState([kind, first, more]) {
    const place = at("state");
    place.dataset.kind = kind;
    show(place, shape(kind), el("p", {}, el("strong", {}, first), " ", more));
  }

  // A home screen opens this very house: a manifest inside the page needs the whole address.
  function nameStart() {
    const manifest = document.querySelector("link[rel=manifest]"), start = manifest.href.indexOf(",") + 1;
    const made = { ...JSON.parse(decodeURIComponent(manifest.href.slice(start))), start_url: location.href };
    manifest.href = manifest.href.slice(0, start) + encodeURIComponent(JSON.stringify(made));
  }

  function goTo() {
    const wanted = location.hash.slice(1);
    site = /^[a-z][a-z0-9-]{0,23}$/.test(wanted) ? wanted : ""; // what the settings allow as the name of a site
    nameStart();
    if (account === null) return;
    connect();
    draw();
  }

  addEventListener("hashchange", goTo);
  addEventListener("resize", drawSoon);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) draw(); });
  setInterval(draw, REDRAW_MS);

  const kept = remembered();
  if (kept.url && kept.user && kept.password) account = kept;
  goTo();
  if (account === null) askWho("");
})();
