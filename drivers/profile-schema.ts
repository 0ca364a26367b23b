import { z } from "zod";
import { keyOf, listOf, withContradictions } from "../limits/faulty-file.ts";
import { quantity, wholeNumber } from "../limits/quantity-schema.ts";
import { checksumSchema } from "./checksum-schema.ts";
import type { Framing } from "./framing.ts";
import { modbusGauge } from "./modbus-gauge-schema.ts";
import { modbusIoBlock } from "./modbus-io-schema.ts";
import type { Quality } from "./ports.ts";
import type { GaugeProfile, IoBlockProfile, ProfileBody, StartUpStep } from "./profile.ts";
import { commandProblems, groupProblems, markProblems } from "./profile-checks.ts";
import { channelKeys, channelOf, channelProblems, checkedUnit, port, unitProblems } from "./profile-parts.ts";
import { command, every, mark, number, pattern, word } from "./profile-words.ts";

const channel = withContradictions(z.strictObject(channelKeys), channelProblems).transform(channelOf);

const lineEnd = z.enum(["LF", "CR", "CRLF"]);

const line = z.strictObject({
  terminator: lineEnd,
  send_terminator: lineEnd
    .optional()
    .meta({ description: "What commands end with, where answers end otherwise." }),
  longest_bytes: wholeNumber({ atLeast: 1, atMost: 4096 }),
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

const selfTest = z.strictObject({
  ask: command,
  expect: pattern,
  within: quantity("time", { atLeast: "1 ms", atMost: "10 min" }),
});

const startUpFile = z.strictObject({
  send: command,
  expect: pattern.optional().meta({ description: "Its answer." }),
  wait: quantity("time", {
    atMost: "60 s",
    description: "For a command without an answer: how long until it has taken effect.",
  }).optional(),
});

const startUpStep = withContradictions(startUpFile, (given) =>
  (keyOf(given, "expect") === undefined) === (keyOf(given, "wait") === undefined)
    ? [{ path: [], expected: "either expect (its answer) or wait (where none comes), and not both" }]
    : [],
).transform(
  ({ send, expect, wait }): StartUpStep =>
    expect === undefined ? { send, wait_s: wait ?? 0 } : { send, expect },
);

const gaugeFile = z.strictObject({
  ...common,
  kind: z.literal("gauge"),
  checksum: checksumSchema.optional(),
  echo: z.boolean().optional().meta({ description: "Each command comes back before its answer." }),
  skip: z.array(pattern).optional().meta({ description: "Lines that mean nothing, such as prompts." }),
  identity: identity.optional(),
  self_test: selfTest.optional(),
  start_up: z.array(startUpStep).min(1).optional().meta({
    description: "Sent at every connect, after identity and self-test, in this order.",
  }),
  poll: z.strictObject({ ask: command, every }).optional(),
  stream: z.strictObject({ stale_after: every }).optional(),
  reply: pattern,
  channels: z.array(channel).min(1),
  sequence: z.strictObject({ group: word, modulus: wholeNumber({ atLeast: 2 }) }).optional(),
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
  text_values: z
    .strictObject({ over_range: z.array(mark).optional(), invalid: z.array(mark).optional() })
    .optional()
    .meta({ description: "Texts in a number's place, such as OL; the reply pattern has to let them in." }),
  errors: z.array(pattern).optional(),
  when_silent: z.strictObject({ ask: command, error: pattern }).optional(),
});

const gauge = withContradictions(gaugeFile, (given) => [
  ...((keyOf(given, "poll") === undefined) === (keyOf(given, "stream") === undefined)
    ? [{ path: [], expected: "either poll or stream, and not both" }]
    : []),
  ...unitProblems(keyOf(keyOf(given, "time"), "unit"), "time", ["time", "unit"]),
  ...groupProblems(given),
  ...markProblems(given),
  ...commandProblems(given),
]).transform(
  (given): Omit<GaugeProfile, "name"> => ({
    kind: "gauge",
    ...commonOf(given, given.poll !== undefined),
    ...(given.checksum && { checksum: given.checksum }),
    echo: given.echo ?? false,
    skip: given.skip ?? [],
    ...(given.identity && { identity: given.identity }),
    ...(given.self_test && {
      selfTest: {
        ask: given.self_test.ask,
        expect: given.self_test.expect,
        within_s: given.self_test.within,
      },
    }),
    startUp: given.start_up ?? [],
    mode: given.poll
      ? { kind: "poll", ask: given.poll.ask, every_s: given.poll.every }
      : { kind: "stream", staleAfter_s: given.stream?.stale_after ?? 0 },
    reply: given.reply,
    channels: given.channels,
    ...(given.sequence && { sequence: given.sequence }),
    ...(given.time && { time: { group: given.time.group, unit: checkedUnit(given.time.unit, "time") } }),
    ...(given.status && { status: { group: given.status.group, meanings: qualities(given.status) } }),
    specialValues: qualities(given.special_values ?? {}),
    textValues: qualities(given.text_values ?? {}),
    errors: given.errors ?? [],
    ...(given.when_silent && { whenSilent: given.when_silent }),
  }),
);

const ioBlockFile = z.strictObject({
  ...common,
  kind: z.literal("io_block"),
  identity,
  outputs: z.array(word).min(1),
  inputs: z.array(word),
  poll: z.strictObject({ every }),
  heartbeat: z.strictObject({ every }),
});

const ioBlock = withContradictions(ioBlockFile, (given) => {
  const names = ["outputs", "inputs"].flatMap((key) =>
    listOf(given, key).map((name, i) => ({ name, path: [key, i] })),
  );
  const first = new Map([...names].reverse().map(({ name, path }) => [name, path]));
  return names
    .filter(({ name, path }) => first.get(name) !== path)
    .map(({ path }) => ({ path, expected: "a name not used before" }));
}).transform(
  (given): Omit<IoBlockProfile, "name"> => ({
    kind: "io_block",
    ...commonOf(given, true),
    identity: given.identity,
    outputs: given.outputs,
    inputs: given.inputs,
    pollEvery_s: given.poll.every,
    beatEvery_s: given.heartbeat.every,
  }),
);

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
    sendTerminator: given.line.send_terminator ?? given.line.terminator,
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

const KINDS = [gauge, ioBlock, modbusGauge, modbusIoBlock] as const;

/** A profile file; its output lacks the name, which is the file's. */
export const profileSchema: z.ZodType<ProfileBody> = z.discriminatedUnion("kind", KINDS);

/** JSON Schema (draft 2020-12) of a profile file, for editors. */
export function profileJsonSchema(): object {
  return z.toJSONSchema(z.discriminatedUnion("kind", KINDS), {
    io: "input",
    target: "draft-2020-12",
  });
}
