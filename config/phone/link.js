"use strict";
// One connection to the broker that comes back by itself. It subscribes and does nothing else: no line of this page
// publishes, and the broker would not let its account publish either.

const link = (() => {
  const KEEP_ALIVE_S = 30, PATIENCE_S = 15, SHORTEST_PAUSE_S = 2, LONGEST_PAUSE_S = 60;
  const REFUSED = [4, 5]; // MQTT 3.1.1, section 3.2.2.3: bad user name or password, not authorized

  // Connect to {url, user, password} and hear `topics`. `heard(topic, text, retained)` is called for each message,
  // `changed(state, words)` when the state becomes "connecting", "connected", "away" or "refused".
  // Returns a function that ends it.
  function open(account, topics, heard, changed) {
    let over = false, pause_s = SHORTEST_PAUSE_S, timer = 0, socket = null;

    function attempt() {
      if (over) return;
      changed("connecting");
      let ended = false, last_ms = Date.now(), watch = 0;
      try {
        socket = new WebSocket(account.url, ["mqtt"]);
      } catch (problem) {
        changed("refused", `${account.url} is not an address this browser connects to from here`);
        return;
      }
      const mine = socket;
      const end = (state, why) => {
        if (ended) return;
        ended = true;
        clearInterval(watch);
        mine.close();
        if (over) return;
        changed(state, why);
        if (state === "refused") return;
        timer = setTimeout(attempt, 1000 * pause_s * (0.75 + Math.random() / 2));
        pause_s = Math.min(pause_s * 2, LONGEST_PAUSE_S);
      };
      mine.addEventListener("close", () => end("away"));
      mine.addEventListener("message", () => { last_ms = Date.now(); });
      let patience_s = PATIENCE_S;
      watch = setInterval(() => { if (Date.now() - last_ms > 1000 * patience_s) end("away"); }, 1000);

      const client = globalThis.mqtt({
        on_mqtt_type: {
          mqtt_publish: (packet) => {
            if (!ended) heard(packet.topic, new TextDecoder().decode(packet.payload || new Uint8Array()), packet.retain);
          },
        },
      });
      client.on_disconnect = () => end("away");
      client.with_websock(mine);
      client.connect({ username: account.user, password: account.password, keep_alive: KEEP_ALIVE_S })
        .then(() => client.subscribe(topics))
        .then(() => {
          patience_s = 2 * KEEP_ALIVE_S + PATIENCE_S;
          pause_s = SHORTEST_PAUSE_S;
          changed("connected");
        })
        .catch((problem) => {
          const refused = REFUSED.includes(Number(problem && problem.reason));
          end(refused ? "refused" : "away", refused ? "the broker refuses this name or this password" : "");
        });
    }

    attempt();
    return () => {
      over = true;
      clearTimeout(timer);
      if (socket) socket.close();
    };
  }

  return { open };
})();
