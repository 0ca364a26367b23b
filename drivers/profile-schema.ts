import { z } from "zod";
import { type Dimension, findUnit, type Unit } from "../limits/quantity.ts";
import { quantity, quantityIssue } from "../limits/quantity-schema.ts";
import type { Framing } from "./framing.ts";
import type { Quality } from "./ports.ts";
import type { GaugeProfile, IoBlockProfile, ProfileBody } from "./profile.ts";
import { compilePattern, groupNames } from "./profile-pattern.ts";

const word = z.string().regex(/^[a-z][a-z0-9_]*$/, { error: () => "a name of a-z, 0-9 and _" });

const command = z
  .string()
  .regex(/^[\x20-\x7e\xa0-\xff]+$/, { error: () => "what to send, without the line ending" });

const pattern = z
  .string()
  .meta({ description: "Regular expression for the whole line, from ^ to $; {number} stands for a number." })
  .transform((text, context): RegExp => {
    const compiled = compilePattern(text);
    if (compiled.ok) return compiled.pattern;
    context.addIssue({ code: "custom", message: compiled.expected });
    return z.NEVER;
  });

const number = z.number({ error: () => "a number" });

const QUANTITIES = [
  "pressure",
  "flow",
  "temperature",
  "power",
  "voltage",
  "relativeHumidity",
  "ratio",
  "length",
  "time",
] as const satisfies readonly Dimension[];
const quantityNames = [
  "relative_humidity",
  ...QUANTITIES.filter((name) => name !== "relativeHumidity"),
] as const;

/** A unit that must belong to the quantity named beside it. */
function unitOf(
  text: string,
  dimension: Dimension,
  context: z.RefinementCtx,
  path: string[],
): Unit | undefined {
  const unit = findUnit(text, dimension);
  if (unit.ok) return unit.value;
  context.addIssue({ ...quantityIssue(unit), path });
  return undefined;
}

const channel = z
  .strictObject({
    name: word,
    quantity: z.enum(quantityNames),
    unit: z.string().meta({ examples: ["Pa", "L/s", "degC"] }),
    scale: number
      .optional()
      .meta({ description: "Factor from the number on the wire to the number in the unit; 1 if left out." }),
  })
  .transform((given, context) => {
    const dimension = given.quantity === "relative_humidity" ? "relativeHumidity" : given.quantity;
    const unit = unitOf(given.unit, dimension, context, ["unit"]);
    const scale = given.scale ?? 1;
    if (scale === 0) context.addIssue({ code: "custom", message: "a factor other than 0", path: ["scale"] });
    if (!unit || scale === 0) return z.NEVER;
    return { name: given.name, unit, scale };
  });

const port = z
  .strictObject({
    baud: z.int().min(50).max(4_000_000),
    data_bits: z.union([z.literal(7), z.literal(8)]),
    parity: z.enum(["none", "even", "odd"]),
    stop_bits: z.union([z.literal(1), z.literal(2)]),
    flow_control: z.enum(["none", "rts_cts", "xon_xoff"]),
  })
  .transform((given) => ({
    baud: given.baud,
    dataBits: given.data_bits,
    parity: given.parity,
    stopBits: given.stop_bits,
    flowControl: given.flow_control,
  }));

const line = z.strictObject({
  terminator: z.enum(["LF", "CR", "CRLF"]),
  longest_bytes: z.int().min(1).max(4096),
  idle_rest: quantity("time", {
    atLeast: "1 ms",
    description: "Half a line followed by this much silence is dropped.",
  }),
});

const identity = z.strictObject({ ask: command, expect: pattern });

const common = {
  drumtight: z.literal("profile/1"),
  title: z.string().min(1),
  port,
  line,
  wait_after_open: quantity("time", { atLeast: "0 s", atMost: "30 s" }).optional(),
  reply_within: quantity("time", { atLeast: "1 ms", atMost: "60 s" }),
};

const every = quantity("time", { atLeast: "1 ms", atMost: "1 h" });
const mark = z.string().min(1);

const gauge = z
  .strictObject({
    ...common,
    kind: z.literal("gauge"),
    identity: identity.optional(),
    poll: z.strictObject({ ask: command, every }).optional(),
    stream: z.strictObject({ stale_after: every }).optional(),
    reply: pattern,
    channels: z.array(channel).min(1),
    sequence: z.strictObject({ group: word, modulus: z.int().min(2) }).optional(),
    time: z.strictObject({ group: word, unit: z.string() }).optional(),
    status: z
      .strictObject({
        group: word,
        good: z.array(mark).min(1),
        over_range: z.array(mark).optional(),
        invalid: z.array(mark).optional(),
      })
      .optional(),
    special_values: z
      .strictObject({ over_range: z.array(number).optional(), invalid: z.array(number).optional() })
      .optional(),
    errors: z.array(pattern).optional(),
    when_silent: z.strictObject({ ask: command, error: pattern }).optional(),
  })
  .transform((given, context): Omit<GaugeProfile, "name"> => {
    const refuse = (message: string, path: (string | number)[]) =>
      context.addIssue({ code: "custom", message, path });
    if ((given.poll === undefined) === (given.stream === undefined)) {
      refuse("either poll or stream, and not both", []);
    }
    const time = given.time && unitOf(given.time.unit, "time", context, ["time", "unit"]);
    for (const problem of groupProblems(given)) refuse(problem.expected, problem.path);
    return {
      kind: "gauge",
      ...commonOf(given, given.poll !== undefined),
      ...(given.identity && { identity: given.identity }),
      mode: given.poll
        ? { kind: "poll", ask: given.poll.ask, every_s: given.poll.every }
        : { kind: "stream", staleAfter_s: given.stream?.stale_after ?? 0 },
      reply: given.reply,
      channels: given.channels,
      ...(given.sequence && { sequence: given.sequence }),
      ...(given.time && time && { time: { group: given.time.group, unit: time } }),
      ...(given.status && { status: { group: given.status.group, meanings: qualities(given.status) } }),
      specialValues: qualities(given.special_values ?? {}),
      errors: given.errors ?? [],
      ...(given.when_silent && { whenSilent: given.when_silent }),
    };
  });

interface Grouped {
  readonly reply: RegExp;
  readonly channels: readonly { readonly name: string }[];
  readonly sequence?: { readonly group: string } | undefined;
  readonly time?: { readonly group: string } | undefined;
  readonly status?: { readonly group: string } | undefined;
}

/** Every channel and every piece of information has its named group in the reply pattern, each group a use. */
function groupProblems(given: Grouped): { expected: string; path: (string | number)[] }[] {
  const groups = new Set(groupNames(given.reply));
  const problems: { expected: string; path: (string | number)[] }[] = [];
  const used = new Set<string>();
  const use = (group: string, path: (string | number)[]) => {
    if (used.has(group)) problems.push({ expected: "a name not used before", path });
    else if (!groups.has(group)) {
      problems.push({
        expected: `a named group of the reply pattern (it has ${[...groups].join(", ") || "none"})`,
        path,
      });
    }
    used.add(group);
  };
  for (const [index, { name }] of given.channels.entries()) use(name, ["channels", index, "name"]);
  if (given.sequence) use(given.sequence.group, ["sequence", "group"]);
  if (given.time) use(given.time.group, ["time", "group"]);
  if (given.status) use(given.status.group, ["status", "group"]);
  for (const group of groups) {
    if (!used.has(group))
      problems.push({ expected: `a channel or other use for its group ${group}`, path: ["reply"] });
  }
  return problems;
}

const ioBlock = z
  .strictObject({
    ...common,
    kind: z.literal("io_block"),
    identity,
    outputs: z.array(word).min(1),
    inputs: z.array(word),
    poll: z.strictObject({ every }),
    heartbeat: z.strictObject({ every }),
  })
  .transform((given, context): Omit<IoBlockProfile, "name"> => {
    const names = [...given.outputs, ...given.inputs];
    for (const [index, name] of names.entries()) {
      if (names.indexOf(name) === index) continue;
      const isOutput = index < given.outputs.length;
      const path = isOutput ? ["outputs", index] : ["inputs", index - given.outputs.length];
      context.addIssue({ code: "custom", message: "a name not used before", path });
    }
    return {
      kind: "io_block",
      ...commonOf(given, true),
      identity: given.identity,
      outputs: given.outputs,
      inputs: given.inputs,
      pollEvery_s: given.poll.every,
      beatEvery_s: given.heartbeat.every,
    };
  });

interface CommonGiven {
  readonly title: string;
  readonly port: z.output<typeof port>;
  readonly line: z.output<typeof line>;
  readonly wait_after_open?: number | undefined;
  readonly reply_within: number;
}

function commonOf(given: CommonGiven, speaksOnlyWhenAsked: boolean) {
  const framing: Framing = {
    terminator: given.line.terminator,
    longest_bytes: given.line.longest_bytes,
    idleRest_s: given.line.idle_rest,
    dropRestBeforeSend: speaksOnlyWhenAsked,
  };
  return {
    title: given.title,
    port: given.port,
    framing,
    waitAfterOpen_s: given.wait_after_open ?? 0,
    replyWithin_s: given.reply_within,
  };
}

interface Marks<T> {
  readonly good?: readonly T[] | undefined;
  readonly over_range?: readonly T[] | undefined;
  readonly invalid?: readonly T[] | undefined;
}

function qualities<T>({ good = [], over_range = [], invalid = [] }: Marks<T>): Map<T, Quality> {
  const all = (marks: readonly T[], quality: Quality) => marks.map((mark) => [mark, quality] as const);
  return new Map([...all(good, "good"), ...all(over_range, "over-range"), ...all(invalid, "invalid")]);
}

/** A profile file; its output lacks the name, which is the file's. */
export const profileSchema: z.ZodType<ProfileBody> = z.discriminatedUnion("kind", [gauge, ioBlock]);

/** JSON Schema (draft 2020-12) of a profile file, for editors. */
export function profileJsonSchema(): object {
  return z.toJSONSchema(z.discriminatedUnion("kind", [gauge, ioBlock]), {
    io: "input",
    target: "draft-2020-12",
  });
}
