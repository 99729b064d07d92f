// Numbers, units and words for reading.

const TEXT = { degC: "°C", degF: "°F", delta_degC: "K", delta_degF: "°F", deg: "°", um: "µm", uin: "µin", 1: "", ShoreA: "Shore A" };

export const VERDICT = { pass: "passes", caution: "passes with care", fail: "does not pass", not_evaluated: "cannot be judged" };
export const EVIDENCE = { standard: "a standard", published: "published values", own_test: "tests of our own", common_practice: "common practice", house_estimate: "estimates" };

// Units of entry of each kind of quantity, SI and customary: factor to the first and, for temperatures, the offset before it.
export const KINDS = {
  length: { si: "mm", us: "in", factor: 25.4 },
  roughness: { si: "um", us: "uin", factor: 0.0254 },
  rotational_speed: { si: "rpm", us: "rpm", factor: 1 },
  surface_speed: { si: "m/s", us: "ft/min", factor: 0.00508 },
  angle: { si: "deg", us: "deg", factor: 1 },
  frequency: { si: "1/min", us: "1/min", factor: 1 },
  gauge_pressure: { si: "bar", us: "psi", factor: 0.06894757293168 },
  temperature: { si: "degC", us: "degF", factor: 5 / 9, offset: 32 },
  hardness: { si: "HRC", us: "HRC", factor: 1 },
  force: { si: "kN", us: "lbf", factor: 0.0044482216152605 },
  time: { si: "h", us: "h", factor: 1 },
};

export const convert = (value, kind, to) => {
  const { factor, offset = 0 } = KINDS[kind];
  return to === "us" ? value / factor + offset : (value - offset) * factor;
};

export const unit = (symbol) => {
  if (symbol in TEXT) return TEXT[symbol];
  const [over, ...under] = symbol.split("/");
  const raised = (text) => text.replaceAll(".", "·").replace(/(?<=[a-z])\d/g, (digit) => "⁰¹²³⁴⁵⁶⁷⁸⁹"[digit]);
  if (!under.length) return raised(over);
  const below = under.length === 2 && under[0] === under[1] ? `${under[0]}²` : under.map(raised).join("·");
  return `${raised(over)}/${under.length > 1 && !below.endsWith("²") ? `(${below})` : below}`;
};

export const number = (value, digits = 3) => {
  if (value === null || value === undefined) return "–";
  const size = Math.abs(value);
  if (size !== 0 && (size >= 1e7 || size < 1e-4)) {
    const [mantissa, power] = value.toExponential(digits - 1).split("e");
    const raised = [...String(+power)].map((letter) => (letter === "-" ? "⁻" : "⁰¹²³⁴⁵⁶⁷⁸⁹"[letter])).join("");
    return `${+mantissa}·10${raised}`;
  }
  const kept = Math.max(digits, Math.ceil(Math.log10(size + 1)));
  return (size < 1e-9 ? 0 : value).toLocaleString("en", { maximumSignificantDigits: Math.min(kept, 15) }).replace("-", "−");
};

export const quantity = (given, digits) => {
  if (given === null || given === undefined) return "–";
  const symbol = unit(given.unit);
  return `${number(given.value, digits)}${symbol === "°" ? "" : "\u00a0"}${symbol}`.trim();
};

// A life is known to a factor of several: two digits at the most.
export const lifetime = (given) => (given ? quantity({ ...given, value: +given.value.toPrecision(2) }) : "–");

// As an entry field has it: digits alone, no separators.
export const entry = (value, digits = 6) => String(+value.toPrecision(digits));

export const percent = (share) => (share === null || share === undefined ? "" : `${number(100 * share, share < 0.0995 ? 2 : 3)}\u00a0%`);

export const pretty = (text) => text.replace(/(?<=\d )(degC|degF|um|uin|[A-Za-z]+\.[A-Za-z]+(?:\/[A-Za-z]+)*|N\/mm\/mm)(?![\w/])/g, (symbol) => unit(symbol)).replace(/(?<=\d) deg\b/g, "°");

export const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);

// A name of the interface where no words for it are at hand.
export const plain = (name) => capital(name.replaceAll("_", " ").replace(/\bptfe\b/g, "PTFE").replace(/\bo ring\b/, "O-ring"));

export const el = (tag, given = {}, ...inside) => {
  const made = tag.startsWith("svg:") ? document.createElementNS("http://www.w3.org/2000/svg", tag.slice(4)) : document.createElement(tag);
  for (const [name, value] of Object.entries(given)) {
    if (name === "click") made.addEventListener("click", value);
    else if (value !== null && value !== undefined && value !== false) made.setAttribute(name, value === true ? "" : value);
  }
  made.append(...inside.flat().filter((item) => item !== null && item !== undefined && item !== false));
  return made;
};

export const status = (code, words = VERDICT[code]) => el("span", { class: `status ${code}` }, words);
