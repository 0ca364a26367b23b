import type { Fault, Stress } from "./fault-plan.ts";
import type { Way } from "./tried-seeds.ts";

/** One of the station's own safety checks taken away. */
export interface Mutant {
  readonly name: string;
  /** What the station no longer does. */
  readonly without: string;
  /** What it is there for: only a failure of these kinds counts. */
  readonly killedBy: readonly Way[];
  /** Trouble that the check is there for, where the campaign draws it seldom. */
  readonly stress?: Stress;
  /** Texts of the built program, each of which must be there exactly once, and what stands in their place. */
  readonly patches: readonly Patch[];
}

export interface Patch {
  /** Below `dist`. */
  readonly file: string;
  readonly from: string;
  readonly to: string;
}

const FIT_NOT_QUESTIONED: Patch = {
  file: "station/measure/leak/fitted-slope.js",
  from: "if (fit.fitProbability < least || fit.noiseRatio > MOST_NOISE_RATIO)",
  to: "if (false)",
};

/**
 * In the early seconds the fit refuses what can't be a body's cooling, too; late in a reference piece's whole measuring time,
 * when the gas has cooled, it does not notice.
 */
const LATE = { chance: 0.6, after_s: [11, 12], lasts: ["measure"] } as const;

/** The texts are those that the compiler makes of the sources: a check that is written otherwise needs its line here changed. */
export const MUTANTS: readonly Mutant[] = [
  // What is kept.
  one(
    "file-not-synced",
    "syncing what it wrote",
    "station/records/durable-file.js",
    "await file.sync();",
    "",
    ["verdict not on disk"],
  ),
  one(
    "names-not-synced",
    "syncing the folder a file was named in",
    "station/records/durable-file.js",
    "await handle.sync();",
    "",
    ["verdict not on disk"],
  ),
  one(
    "not-read-back",
    "comparing what it reads back with what it wrote",
    "station/records/durable-file.js",
    'if (found.toString("utf8") !== text) {',
    "if (false) {",
    ["verdict not on disk", "chain broken"],
    { faults: [{ kind: "write", accident: "altered" }], phases: ["measure"], chance: 0.3 },
  ),
  one(
    "told-before-kept",
    "waiting for the traveller before the verdict is told",
    "station/records/store.js",
    "await this.#open.writeOnce(text, join(this.folder, path));",
    "void this.#open.writeOnce(text, join(this.folder, path)).catch(() => undefined);",
    ["verdict not on disk"],
  ),
  one(
    "begin-not-noted",
    "noting on disk that an attempt begins",
    "station/records/open-attempts.js",
    "await this.writeOnce(canonicalText(intent), path);",
    "",
    ["attempt lost or doubled"],
  ),
  one(
    "interrupted-not-voided",
    "making a void traveller of what was cut off",
    "station/records/store.js",
    "interrupted: await store.voidOpenAttempts()",
    "interrupted: []",
    ["attempt lost or doubled"],
  ),
  one(
    "open-note-believed",
    "looking for the traveller of an open attempt that came back",
    "station/records/open-attempts.js",
    "if (hasTraveller(id))",
    "if (false)",
    ["attempt lost or doubled", "records refused"],
    {
      faults: [{ kind: "crash", how: "power", afterOperations: null }],
      phases: ["recording"],
      chance: 0.3,
      after_s: [0, 0.5],
    },
  ),
  one(
    "chain-head-kept-old",
    "moving on to the newest record",
    "station/records/store.js",
    "this.#head = { sequence, sha256 };",
    "",
    ["chain broken", "records refused"],
  ),
  {
    name: "number-given-twice",
    without: "counting a serial's attempts, and refusing a number that is taken",
    // Where the station is started again first, it finds the number twice itself.
    killedBy: ["attempt lost or doubled", "records refused"],
    stress: { faults: [{ kind: "abort" }], phases: ["measure"], chance: 0.3 },
    patches: [
      {
        file: "station/records/retest.js",
        from: "const attempt = 1 + history.reduce((highest, past) => Math.max(highest, past.attempt), 0);",
        to: "const attempt = 1;",
      },
      { file: "station/records/store.js", from: "this.#open.requireFree(facts, recorded);", to: "" },
    ],
  },
  one(
    "holds-not-made",
    "holding what a failed reference check puts in doubt",
    "station/records/decisions.js",
    "for (const draft of drafts)",
    "for (const draft of [])",
    ["unit not on hold"],
    { faults: [{ kind: "leak_gauge_creeps", part: 0.2 }], phases: ["run_up"], chance: 0.3 },
  ),
  one(
    "hold-not-asked",
    "asking, before a test, whether somebody holds the unit",
    "station/records/retest.js",
    "const against = decidedAgainst(serial, dispositions);",
    "const against = null;",
    ["held unit let through"],
  ),
  one(
    "hold-not-told",
    "asking, after a test, whether somebody has held the unit meanwhile",
    "station/recording.js",
    "const against = await this.#decidedAgainst(attempt);",
    "const against = null;",
    ["held unit let through"],
  ),
  // Who may be tested.
  one(
    "reference-not-due",
    "asking for the reference check",
    "station/admission.js",
    "refuseReference(references.state(limits.model).due, file.referenceCheck)",
    "[]",
    ["station not proven"],
  ),
  one(
    "fails-not-counted",
    "counting a unit's fails",
    "station/records/retest.js",
    "if (fails > rule.afterFail) {",
    "if (false) {",
    ["retest rule broken"],
    { faults: [], chance: 0, marginal: { part: 0.95, least: 2, most: 4 } },
  ),
  one(
    "passed-again",
    "refusing a unit that has passed",
    "station/records/retest.js",
    'if (window.findLast(({ verdict }) => verdict !== "void")?.verdict === "pass") {',
    "if (false) {",
    ["retest rule broken"],
  ),
  // What comes over the wire.
  one(
    "sequence-not-checked",
    "finding that a gauge's reading is missing",
    "drivers/protocols/reply-reader.js",
    "if (last === undefined || number === (last + 1) % modulus)",
    "if (number >= 0)",
    ["pass without evidence"],
    leakGauge("skips", 60, ["settle"]),
  ),
  {
    name: "identity-not-checked",
    without: "asking whether the right instrument is on the port",
    killedBy: ["pass without evidence"],
    stress: {
      faults: [
        day("leak_gauge", "wrong_identity", 90),
        { kind: "crash", how: "kill", afterOperations: null },
      ],
      chance: 0.1,
    },
    patches: [
      {
        file: "drivers/protocols/identify.js",
        from: "if (bare.ok && identity.expect.test(bare.text))",
        to: "if (bare.ok)",
      },
      {
        file: "station/fixture.js",
        from: "if (expected === undefined || instrument.identity.includes(expected))",
        to: "if (true)",
      },
    ],
  },
  {
    name: "frozen-not-seen",
    without: "seeing that a gauge stands still, and asking whether the fit fits",
    killedBy: ["fault not named", "pass of a bad unit"],
    stress: { ...leakGauge("stuck", 60, ["measure"]), lasts: ["measure"] },
    patches: [
      { file: "station/measure/fit/standstill.js", from: "if (longest + 1 < SHORTEST)", to: "if (true)" },
      // It alone refuses such readings as well, because they scatter like no gauge's; with a fixed timer it would not be there.
      FIT_NOT_QUESTIONED,
    ],
  },
  one(
    "silence-not-seen",
    "seeing that a gauge that streams has gone silent",
    "drivers/protocols/ascii-line.js",
    'if (profile.mode.kind === "stream")',
    "if (false)",
    ["fault not named"],
    leakGauge("silent", 20, ["fill", "settle", "measure"]),
  ),
  one(
    "fit-not-questioned",
    "asking whether a body has settled as the fitted model says",
    FIT_NOT_QUESTIONED.file,
    FIT_NOT_QUESTIONED.from,
    FIT_NOT_QUESTIONED.to,
    ["pass of a bad unit"],
    {
      faults: [{ kind: "leak_gauge_steps", by_s: 5, for_s: 60 }],
      phases: ["measure"],
      chance: 0.5,
      after_s: [0, 2],
    },
  ),
  one(
    "held-up-not-seen",
    "seeing that readings were held up",
    "station/cycle/curve-trust.js",
    "return gap_s > Math.max(LONGEST_GAP_s, LONGEST_GAP_INTERVALS * usual_s) ? heldUp(gap_s) : null;",
    "return null;",
    ["fault not named"],
    { faults: [{ kind: "held_up", for_s: 0.9 }], phases: ["measure"], ...LATE },
  ),
  // What is driven.
  one(
    "outputs-not-read-back",
    "reading outputs back from the I/O block",
    "drivers/protocols/io-block.js",
    "const refused = Object.entries(this.#commanded).filter(([name, level]) => state.outputs[name] !== level);",
    "const refused = [];",
    ["outputs not safe", "unit left dangerous", "sound unit failed"],
    { faults: [day("io_block", "outputs_not_taken", 8)], chance: 0.1 },
  ),
  one(
    "not-made-safe",
    "commanding safe outputs when a test is broken off",
    "station/cycle/unit-machine.js",
    "input: ({ context }) => ({ ...allOrificesShut(context), ...SAFE_LEVELS }),",
    "input: () => ({}),",
    ["outputs not safe"],
    { faults: [{ kind: "abort" }], chance: 0.1 },
  ),
  one(
    "not-safe-at-connect",
    "commanding safe outputs first of all when it connects",
    "station/fixture.js",
    "this.#safeLevels = { ...shut, ...SAFE_LEVELS };",
    "this.#safeLevels = {};",
    ["outputs not safe"],
    { faults: [{ kind: "crash", how: "kill", afterOperations: null }], chance: 0.1 },
  ),
  one(
    "guard-not-heeded",
    "breaking a test off when the guard is opened",
    "station/cycle/station-machine.js",
    'GUARD_OPENED: { actions: forwardTo("unit") },',
    "GUARD_OPENED: {},",
    ["pass without evidence"],
    { faults: [{ kind: "guard_opened", for_s: 1 }], chance: 0.1 },
  ),
  {
    name: "vent-not-awaited",
    without: "waiting until the body is vented, and doubting a vent that took no time",
    killedBy: ["unit left dangerous"],
    stress: { faults: [day("io_block", "vent_blocked", 20)], phases: ["measure"], chance: 0.3 },
    patches: [
      {
        file: "station/cycle/watchers.js",
        from: '(p_Pa) => Math.abs(p_Pa) <= observation.within_Pa, (at_s) => ({ kind: "vented", at_s })',
        to: '() => true, (at_s) => ({ kind: "vented", at_s })',
      },
      {
        file: "station/cycle/vent-findings.js",
        from: "took_s >= step.ventShortest_s",
        to: "true",
      },
    ],
  },
  // What is judged.
  one(
    "voids-ignored",
    "letting a doubt about the measurement weigh more than its figures",
    "station/cycle/judging.js",
    "if (voids.length > 0)",
    "if (false)",
    ["unit left dangerous", "fault not named"],
    { faults: [day("io_block", "contactor_welded", 60)], phases: ["hold"], chance: 0.2 },
  ),
  one(
    "limits-not-guarded",
    "keeping a measured value away from its limit by its uncertainty",
    "limits/judge.js",
    "guard: isGuarded ? normalQuantile(rule.conformance) : 0,",
    "guard: 0,",
    ["stated risk"],
    { faults: [], chance: 0, marginal: { part: 0.95, least: 1, most: 1.01 } },
  ),
];

function one(
  name: string,
  without: string,
  file: string,
  from: string,
  to: string,
  killedBy: readonly Way[],
  stress?: Stress,
): Mutant {
  return { name, without, killedBy, ...(stress && { stress }), patches: [{ file, from, to }] };
}

function day(instrument: string, badDay: string, for_s: number): Fault {
  return { kind: "bad_day", instrument, day: badDay, for_s };
}

function leakGauge(badDay: string, for_s: number, phases: readonly string[]): Stress {
  return { faults: [day("leak_gauge", badDay, for_s)], phases, chance: 0.3 };
}
