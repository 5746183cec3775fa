// A browser may refuse its storage, even to name it: then this page's own memory stands in, until the page is left.
(() => {
  for (const name of ["localStorage", "sessionStorage"]) {
    try {
      window[name].length;
    } catch {
      const held = new Map();
      const value = {
        getItem: (key) => held.get(String(key)) ?? null,
        setItem: (key, words) => void held.set(String(key), String(words)),
        removeItem: (key) => void held.delete(String(key)),
        clear: () => held.clear(),
      };
      Object.defineProperty(window, name, { value, configurable: true });
    }
  }
})();
