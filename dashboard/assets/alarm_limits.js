// The limits that the alarm of the live page can hold, and its words.
(() => {
  const live = (window.sootlineLive ??= {});
  const KINDS = [
    {
      key: "lambda",
      of: /^lambda(_\d+)?$/,
      label: "Lambda at full throttle leaner than",
      unit: "",
      range: [0.6, 1.6],
      full: true,
      name: "lambda",
      words: (who, limit) => `${who || "the engine"} leaner than lambda ${limit} at full throttle`,
      shown: (value) => value.toFixed(3),
    },
    {
      key: "egt",
      of: /^egt(_\d+)?$/,
      label: "Exhaust gas over, °C",
      unit: " °C",
      range: [100, 1300],
      name: "exhaust gas temperature",
      words: (who, limit) => `Exhaust gas${who ? ` of ${who}` : ""} over ${limit} °C`,
      shown: (value) => value.toFixed(0),
    },
    {
      key: "head",
      of: /^cht(_\d+)?$/,
      label: "Head temperature over, °C",
      unit: " °C",
      range: [40, 500],
      name: "head temperature",
      words: (who, limit) => `Head${who ? ` of ${who}` : ""} over ${limit} °C`,
      shown: (value) => value.toFixed(0),
    },
  ];
  const few = (words) => (words.length < 2 ? words.join("") : `${words.slice(0, -1).join(", ")} and ${words[words.length - 1]}`);
  // whose values these are: nothing for the engine's only one
  const whose = (columns) => {
    const numbers = columns.filter((column) => column.cylinder !== null).map((column) => column.cylinder).sort((a, b) => a - b);
    return numbers.length === 0 ? "" : `${numbers.length > 1 ? "cylinders" : "cylinder"} ${few(numbers)}`;
  };
  const capital = (words) => words.charAt(0).toUpperCase() + words.slice(1);
  // a limit as typed: a number, null where nothing is, NaN where it is none
  const limitOf = (kind, text) => {
    const words = String(text ?? "").trim().replace(",", ".");
    if (words === "") return null;
    const value = Number(words);
    return value >= kind.range[0] && value <= kind.range[1] ? value : NaN;
  };

  live.limits = { KINDS, whose, capital, limitOf };
})();
