/** One of the station's own safety checks taken away. */
export interface Mutant {
  readonly name: string;
  /** What the station no longer does. */
  readonly without: string;
  /** Texts of the built program, each of which must be there exactly once, and what stands in their place. */
  readonly patches: readonly Patch[];
}

export interface Patch {
  /** Below `dist`. */
  readonly file: string;
  readonly from: string;
  readonly to: string;
}

/** The texts are those that the compiler makes of the sources: a check that is written otherwise needs its line here changed. */
export const MUTANTS: readonly Mutant[] = [
  // What is kept.
  one(
    "file-not-synced",
    "syncing what it wrote",
    "station/records/durable-file.js",
    "await file.sync();",
    "",
  ),
  one(
    "names-not-synced",
    "syncing the folder a file was named in",
    "station/records/durable-file.js",
    "await handle.sync();",
    "",
  ),
  one(
    "not-read-back",
    "comparing what it reads back with what it wrote",
    "station/records/durable-file.js",
    'if (found.toString("utf8") !== text) {',
    "if (false) {",
  ),
  one(
    "told-before-kept",
    "waiting for the traveller before the verdict is told",
    "station/records/store.js",
    "await this.#open.writeOnce(text, join(this.folder, path));",
    "void this.#open.writeOnce(text, join(this.folder, path)).catch(() => undefined);",
  ),
  one(
    "begin-not-noted",
    "noting on disk that an attempt begins",
    "station/records/open-attempts.js",
    "await this.writeOnce(canonicalText(intent), path);",
    "",
  ),
  one(
    "interrupted-not-voided",
    "making a void traveller of what was cut off",
    "station/records/store.js",
    "interrupted: await store.voidOpenAttempts()",
    "interrupted: []",
  ),
  one(
    "open-note-believed",
    "looking for the traveller of an open attempt that came back",
    "station/records/open-attempts.js",
    "if (hasTraveller(id))",
    "if (false)",
  ),
  one(
    "chain-head-kept-old",
    "moving on to the newest record",
    "station/records/store.js",
    "this.#head = { sequence, sha256 };",
    "",
  ),
  {
    name: "number-given-twice",
    without: "counting a serial's attempts, and refusing a number that is taken",
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
  ),
  // Who may be tested.
  one(
    "reference-not-due",
    "asking for the reference check",
    "station/admission.js",
    "refuseReference(references.state(limits.model).due, file.referenceCheck)",
    "[]",
  ),
  one(
    "fails-not-counted",
    "counting a unit's fails",
    "station/records/retest.js",
    "if (fails > rule.afterFail) {",
    "if (false) {",
  ),
  one(
    "passed-again",
    "refusing a unit that has passed",
    "station/records/retest.js",
    'if (window.findLast(({ verdict }) => verdict !== "void")?.verdict === "pass") {',
    "if (false) {",
  ),
  // What comes over the wire.
  one(
    "sequence-not-checked",
    "finding that a gauge's reading is missing",
    "drivers/protocols/reply-reader.js",
    "if (last === undefined || number === (last + 1) % modulus)",
    "if (number >= 0)",
  ),
  {
    name: "identity-not-checked",
    without: "asking whether the right instrument is on the port",
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
    without: "seeing that a gauge stands still",
    patches: [
      {
        file: "station/cycle/watchers.js",
        from: "const reason = hasStoodStill(pressure_mPa) ? GAUGE_FROZEN : jumps?.doubt;",
        to: "const reason = jumps?.doubt;",
      },
    ],
  },
  // What is driven.
  one(
    "outputs-not-read-back",
    "reading outputs back from the I/O block",
    "drivers/protocols/io-block.js",
    "const refused = Object.entries(this.#commanded).filter(([name, level]) => state.outputs[name] !== level);",
    "const refused = [];",
  ),
  one(
    "not-made-safe",
    "commanding safe outputs when a test is broken off",
    "station/cycle/unit-machine.js",
    "input: ({ context }) => ({ ...allOrificesShut(context), ...SAFE_LEVELS }),",
    "input: () => ({}),",
  ),
  one(
    "not-safe-at-connect",
    "commanding safe outputs first of all when it connects",
    "station/fixture.js",
    "this.#safeLevels = { ...shut, ...SAFE_LEVELS };",
    "this.#safeLevels = {};",
  ),
  one(
    "guard-not-heeded",
    "breaking a test off when the guard is opened",
    "station/cycle/station-machine.js",
    'GUARD_OPENED: { actions: forwardTo("unit") },',
    "GUARD_OPENED: {},",
  ),
  one(
    "vent-not-awaited",
    "waiting until the body is vented",
    "station/cycle/watchers.js",
    '(p_Pa) => Math.abs(p_Pa) <= observation.within_Pa, (at_s) => ({ kind: "vented", at_s })',
    '() => true, (at_s) => ({ kind: "vented", at_s })',
  ),
  // What is judged.
  one(
    "voids-ignored",
    "letting a doubt about the measurement weigh more than its figures",
    "station/cycle/judging.js",
    "if (voids.length > 0)",
    "if (false)",
  ),
  one(
    "limits-not-guarded",
    "keeping a measured value away from its limit by its uncertainty",
    "limits/judge.js",
    "guardedLimits(standardUncertainty, rule.conformance, lower, upper);",
    "guardedLimits(standardUncertainty * 1e-6, rule.conformance, lower, upper);",
  ),
];

function one(name: string, without: string, file: string, from: string, to: string): Mutant {
  return { name, without, patches: [{ file, from, to }] };
}
