import fc from "fast-check";
import { CHECK_SCHEMES, checkCharacters } from "../../limits/check-characters.ts";
import { convertText } from "../../limits/convert-text.ts";
import { loadLimitFolder } from "../../limits/limit-file.ts";
import { readPattern } from "../../limits/pattern.ts";
import { type Dimension, describeFailure, parseQuantity } from "../../limits/quantity.ts";
import { meaningOf, type ScanPlace } from "../../station/scan-meaning.ts";
import { parseScan } from "../../station/scanned-lines.ts";
import { lineReader } from "../../station/screen/line-reader.ts";
import { require, requireSentence } from "./clear-words.ts";
import { anyText, mutated } from "./mutate.ts";
import { type FuzzTarget, fuzzTarget } from "./target.ts";

const SHIPPED = loadLimitFolder("limits/models");
/** As the shipped ones, with check characters in serials. */
const CHECKED = SHIPPED.map((limits) => ({
  ...limits,
  model: `${limits.model}-C`,
  serialPattern: /^[TP]UC[0-9]{5}[0-9A-Z]$/u,
  serialCheck: "mod-37-36" as const,
}));
const MODELS = [...SHIPPED, ...CHECKED];
const LINES = [
  "TUB000123",
  "TUC531817",
  "POD000123 tub_cavity=P2 seal_lot=G0042",
  "TUB000123 retest=2",
  "tub_cavity=T3",
  "REF-TIGHT-POD-4",
  "T3",
  "Q123456",
  "TUB000123TUB000124",
  "tub000123",
];
const line = fc.oneof({ weight: 4, arbitrary: mutated(LINES, 3) }, { weight: 1, arbitrary: anyText });

const place: fc.Arbitrary<ScanPlace> = fc.record({
  models: fc.subarray(MODELS, { minLength: 0 }),
  armed: fc.option(fc.constantFrom(...MODELS)),
  referenceSerials: fc.constantFrom([], ["REF-TIGHT-POD-4", "REF-LEAK-POD-4"]),
  badge: fc.constantFrom(null, /^Q[0-9]{6}$/u),
});

/** A scan becomes an attempt only where a model's pattern, or a reference piece, knows its serial. */
const scans = fuzzTarget("scans", 120_000, fc.tuple(line, place), ([text, place]) => {
  const meaning = meaningOf(text, place);
  switch (meaning.kind) {
    case "unit": {
      const { serial } = meaning.scan;
      const isKnown =
        place.referenceSerials.includes(serial) ||
        place.models.some(({ serialPattern }) => serialPattern.test(serial));
      require(isKnown, `takes ${JSON.stringify(serial)} for a serial`);
      return true;
    }
    case "parts":
      for (const [name, value] of Object.entries(meaning.parts)) {
        const models = place.armed ? [place.armed] : place.models;
        const isKnown = models.some(({ parts }) =>
          parts.some((part) => part.name === name && part.pattern.test(value)),
        );
        require(isKnown, `takes ${JSON.stringify(value)} for a ${name}`);
      }
      return true;
    case "badge":
      require(place.badge?.test(text.trim()) === true, "takes for a badge what is none");
      return true;
    default:
      requireSentence(meaning.reason.sentence);
      return false;
  }
});

const READER = lineReader({
  models: MODELS,
  referenceSerials: ["REF-TIGHT-POD-4"],
  badge: /^Q[0-9]{6}$/u,
});

const typed = fuzzTarget("typed lines", 40_000, fc.tuple(line, fc.nat(420)), ([text, cursor]) => {
  const meaning = READER.meaning(text, null);
  if ("reason" in meaning) requireSentence(meaning.reason.sentence);
  const drawn = READER.drawn(text, cursor);
  require(!/Q[0-9]{6}/.test(drawn), `draws a badge: ${JSON.stringify(drawn)}`);
  return !("reason" in meaning);
});

const piped = fuzzTarget("piped scans", 40_000, line, (text) => {
  const scan = parseScan(text);
  if (!scan) return false;
  require(scan.serial !== "", "makes a unit without a serial");
  for (const { sentence } of scan.misread ?? []) requireSentence(sentence);
  return scan.misread === undefined;
});

const checks = fuzzTarget(
  "check characters",
  40_000,
  fc.tuple(
    fc.constantFrom(...(Object.keys(CHECK_SCHEMES) as (keyof typeof CHECK_SCHEMES)[])),
    fc.oneof(mutated(["6291041500213", "79444", "A12425GABC1234002M", "EOL00019"], 2), anyText),
  ),
  ([scheme, text]) => {
    const checked = checkCharacters(scheme, text);
    require(!checked.ok || /^[0-9A-Z]+$/.test(text), `finds the check of ${JSON.stringify(text)} right`);
    return checked.ok;
  },
);

const DIMENSIONS: readonly Dimension[] = [
  "pressure",
  "flow",
  "temperature",
  "power",
  "ratio",
  "length",
  "time",
];
const QUANTITIES = [
  "-8 kPa",
  "60 mL/min @ 0 degC, 101.325 kPa",
  "90 inH2O",
  "21.4 degC",
  "2 %",
  "16.5 mm",
  "8 s",
];

const quantities = fuzzTarget(
  "quantities",
  40_000,
  fc.tuple(fc.oneof(mutated(QUANTITIES, 3), anyText), fc.constantFrom(...DIMENSIONS)),
  ([text, dimension]) => {
    const parsed = parseQuantity(text, dimension);
    if (parsed.ok) require(Number.isFinite(parsed.value.value_SI), "makes a quantity of no finite number");
    else requireSentence(describeFailure(parsed));
    return parsed.ok;
  },
);

const conversions = fuzzTarget(
  "conversions",
  20_000,
  fc
    .constantFrom(
      ["-8 kPa", "inH2O"],
      ["55 L/s", "cfm"],
      ["60 mL/min @ 0 degC, 101.325 kPa", "Pa.m3/s @ 0 degC"],
      ["21.4 degC", "K"],
    )
    .chain(([text = "", to = ""]) =>
      fc.tuple(fc.oneof(mutated([text], 2), anyText), fc.oneof(fc.constant(to), mutated([to], 2), anyText)),
    ),
  ([text, to]) => {
    const result = convertText(text, to);
    if (!result.ok) requireSentence(result.sentence);
    return result.ok;
  },
);

/** A label may say anything: whatever pattern is allowed has to say no in no time. */
const patterns = fuzzTarget(
  "serial patterns",
  20_000,
  fc.tuple(
    mutated(["^TUB[0-9]{6}$", "^(A|B)[0-9A-Z]{1,8}X?$", "^[A-Z0-9._-]{1,64}$", "^P.{0,20}[0-9]{2,30}$"], 4),
    fc.oneof(anyText, fc.string({ unit: fc.constantFrom("A", "0", "X"), maxLength: 200 })),
  ),
  ([text, scan]) => {
    const pattern = readPattern(text);
    if (pattern.ok) pattern.value.test(scan);
    else requireSentence(describeFailure(pattern));
    return pattern.ok;
  },
);

export const SCAN_TARGETS: readonly FuzzTarget[] = [
  scans,
  typed,
  piped,
  checks,
  quantities,
  conversions,
  patterns,
];
