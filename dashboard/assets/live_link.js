// The live page's websocket: opened again after a loss with growing pauses, closed while nobody sees the page.
(() => {
  const live = (window.sootlineLive ??= {});
  const FIRST_MS = 250;
  const LAST_MS = 5000;

  // hear(message) gets each message, told(open) whether the connection stands. Returns {close, since}.
  live.link = (session, hear, told) => {
    let socket = null;
    let timer = 0;
    let pause = FIRST_MS;
    let since = null;
    let over = false;

    const open = () => {
      clearTimeout(timer);
      if (over || socket || document.visibilityState === "hidden") return;
      const scheme = location.protocol === "https:" ? "wss" : "ws";
      const from = since === null ? "" : `?since=${since}`;
      const own = new WebSocket(`${scheme}://${location.host}/_live/${session}/stream${from}`);
      socket = own;
      own.onmessage = (event) => {
        if (own !== socket) return;
        pause = FIRST_MS;
        const message = JSON.parse(event.data);
        if (message.rows) since = message.rows[message.rows.length - 1][0];
        if (message.gone) over = true;
        hear(message);
      };
      own.onopen = () => own === socket && told(true);
      own.onclose = () => {
        if (own !== socket) return;
        socket = null;
        if (over) return;
        told(false);
        timer = setTimeout(open, pause);
        pause = Math.min(LAST_MS, pause * 2);
      };
    };
    const let_go = () => {
      clearTimeout(timer);
      const own = socket;
      socket = null;
      if (own) own.close();
    };
    const look = () => (document.visibilityState === "hidden" ? let_go() : open());
    document.addEventListener("visibilitychange", look);
    window.addEventListener("online", open);
    open();
    return {
      close: () => {
        over = true;
        document.removeEventListener("visibilitychange", look);
        window.removeEventListener("online", open);
        let_go();
      },
    };
  };
})();
