"use strict";
// Numbers and times as people of the house read them. Nothing here touches the page.

const words = (() => {
  const MINUTE_S = 60, HOUR_S = 3600, DAY_S = 86400, JOULES_PER_KWH = 3.6e6;

  const isNumber = (value) => typeof value === "number" && Number.isFinite(value);

  // A temperature in °C, in the unit of the house.
  const inUnit = (celsius, unit) => (unit === "°F" ? celsius * 1.8 + 32 : celsius);

  function temperature(celsius, unit, digits = 1) {
    if (!isNumber(celsius)) return "unknown";
    const shown = inUnit(celsius, unit).toFixed(digits).replace(/^-(0(\.0*)?)$/, "$1").replace("-", "−");
    return `${shown} ${unit}`;
  }

  // A reading, or why there is none: {text, known}.
  function measured(reading, unit) {
    if (reading && isNumber(reading.temperature_c)) {
      return { text: temperature(reading.temperature_c, unit), known: true };
    }
    const why = reading && typeof reading.why === "string" ? reading.why : "is not in the message";
    return { text: why, known: false };
  }

  function duration(seconds) {
    const s = Math.max(0, Math.round(seconds));
    if (s < 90) return `${s} s`;
    if (s < 90 * MINUTE_S) return `${Math.round(s / MINUTE_S)} min`;
    if (s < 2 * DAY_S) {
      const minutes = Math.round((s % HOUR_S) / MINUTE_S / 5) * 5 % 60;
      const hours = Math.round((s - minutes * MINUTE_S) / HOUR_S);
      return minutes && hours < 10 ? `${hours} h ${minutes} min` : `${Math.round(s / HOUR_S)} h`;
    }
    return `${Math.round(s / DAY_S)} days`;
  }

  // How soon to act, in one round number.
  function howSoon(seconds) {
    for (const [unit_s, unit] of [[DAY_S, "day"], [HOUR_S, "hour"], [MINUTE_S, "minute"]]) {
      if (seconds >= unit_s) {
        const count = Math.round(seconds / unit_s);
        return `within ${count} ${unit}${count === 1 ? "" : "s"}`;
      }
    }
    return "at once";
  }

  const two = (number) => String(number).padStart(2, "0");
  const clock = (date) => `${two(date.getHours())}:${two(date.getMinutes())}`;
  const sameDay = (one, other) => one.toDateString() === other.toDateString();

  // A moment in the phone's own zone; the day is named where it is not today.
  function moment(date, now) {
    if (sameDay(date, now)) return clock(date);
    if (sameDay(date, new Date(now.getTime() - DAY_S * 1000))) return `yesterday ${clock(date)}`;
    return `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())} ${clock(date)}`;
  }

  const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

  // "2026-11" as people write it.
  function month(text) {
    const [year, number] = String(text).split("-");
    return MONTHS[Number(number) - 1] ? `${MONTHS[Number(number) - 1]} ${year}` : String(text);
  }

  // The time of a message, or null if it has none or it makes no sense.
  function parsed(text) {
    const ms = typeof text === "string" ? Date.parse(text) : NaN;
    return Number.isNaN(ms) ? null : new Date(ms);
  }

  function energy(joules) {
    if (!isNumber(joules)) return "unknown";
    const kwh = joules / JOULES_PER_KWH;
    if (Math.abs(kwh) < 0.05) return "0 kWh";
    return `${kwh.toFixed(kwh < 9.95 ? 1 : 0)} kWh`;
  }

  const power = (watts) => (Math.abs(watts) >= 1000 ? `${(watts / 1000).toFixed(1)} kW` : `${Math.round(watts)} W`);
  const count = (number, one, many) => `${number} ${number === 1 ? one : many}`;
  const sentence = (text) => (text ? text.charAt(0).toUpperCase() + text.slice(1) : "");

  return {
    clock, count, duration, energy, howSoon, inUnit, isNumber, measured, moment, month, parsed, power, sentence, temperature,
    JOULES_PER_KWH,
  };
})();
