import type { LineChecksum } from "../../drivers/checksum.ts";
import type { SerialSettings } from "../../drivers/transports/serial-settings.ts";
import { CHANNEL_DIMENSIONS } from "../station-channels.ts";
import type { LineEnd } from "./heard-lines.ts";
import type { LineForm, ValueField } from "./line-form.ts";

/** A channel as the engineer names it, in the order in which the values stand on the line. */
export interface NamedChannel {
  readonly name: string;
  readonly quantity: string;
  readonly unit: string;
}

export interface DraftFacts {
  readonly title: string;
  /** For the comment at the top, such as "/dev/ttyUSB0". */
  readonly port: string;
  readonly settings: SerialSettings;
  readonly end: LineEnd;
  /** What questions end with, where one was answered. */
  readonly sendEnd: LineEnd | null;
  readonly form: LineForm;
  readonly checksum: LineChecksum | null;
  readonly looksChecked: boolean;
  /** What was asked for a reading, and how long the slowest answer took; null where it talks by itself. */
  readonly poll: { readonly ask: string; readonly slowest_s: number } | null;
  /** What had to be sent before it began to talk. */
  readonly startUp: string | null;
  readonly identity: { readonly ask: string; readonly answer: string } | null;
  /** What it says to a question it does not know. */
  readonly complaints: readonly string[];
  /** Typical and longest time from line to line. */
  readonly interval_s: { readonly typical: number; readonly longest: number };
  /** Null for a number that is left alone; those beyond the list are for the engineer to name. */
  readonly channels: readonly (NamedChannel | null)[];
}

const CHANNELS = Object.keys(CHANNEL_DIMENSIONS).join(", ");

/**
 * A profile file for an instrument nobody has described yet. The schema accepts it as it stands; what only the engineer
 * knows is marked TODO, and until it is filled in no station takes the gauge for one of its channels.
 */
export function draftProfile(facts: DraftFacts): string {
  const { form, end, sendEnd, settings, channels } = facts;
  const reply = form.values.reduce((pattern, { group }, i) => {
    const named = channels[i];
    if (named === undefined) return pattern;
    return pattern.replace(`(?<${group}>`, named === null ? "(?:" : `(?<${named.name}>`);
  }, form.pattern);
  const example = form.lines[0]?.text ?? "";
  const said = [...form.lines.map(({ text }) => text), facts.identity?.answer ?? ""];
  const longest = Math.max(...said.map((text) => text.length)) + checksumLength(facts);
  return [
    `# Draft, made by drumtight gauge probe from ${form.lines.length} lines heard at ${comment(facts.port)}. Hold every line of it`,
    "# against the instrument's manual; what says TODO only you can know. It said, for example:",
    `#   ${comment(example)}`,
    ...form.others.slice(0, 3).map(({ text }) => `# and, which this profile refuses: ${comment(text)}`),
    "drumtight: profile/1",
    "kind: gauge",
    `title: ${quoted(facts.title)} # TODO: what it is`,
    "",
    ...(/:\d+$/.test(facts.port)
      ? [
          "# TODO: as set on the instrument. Over TCP the device server has its own copy of these, and they were not seen.",
        ]
      : []),
    `port: { baud: ${settings.baud}, data_bits: ${settings.dataBits}, parity: ${settings.parity}, stop_bits: ${settings.stopBits}, flow_control: ${settings.flowControl} }`,
    `line: { terminator: ${end}, ${sendEnd !== null && sendEnd !== end ? `send_terminator: ${sendEnd}, ` : ""}longest_bytes: ${roomFor(longest)}, idle_rest: ${Math.max(100, Math.ceil(20_000 / settings.baud) * 50)} ms }`,
    ...identityLines(facts),
    `reply_within: ${replyWithin_ms(facts)} ms`,
    ...modeLines(facts),
    ...checksumLines(facts),
    ...complaintLines(facts),
    "",
    "# The whole line, from ^ to $. Each named group has a use below.",
    `reply: ${quoted(reply)}`,
    "",
    ...(form.values.length > channels.length
      ? [`# TODO: name each channel, here and in reply, as the station does: ${CHANNELS}.`]
      : []),
    "channels:",
    ...form.values.flatMap((field, i) => channelLines(field, channels[i])),
    ...sequenceLines(form),
    ...timeLines(form),
    ...statusLines(form),
    "",
  ].join("\n");
}

function identityLines({ identity }: DraftFacts): string[] {
  if (!identity) {
    return [
      "# TODO: if it can be asked who it is, say how; without that, another gauge on this port is not noticed.",
      '# identity: { ask: "ID?", expect: "^...$" }',
    ];
  }
  return [
    "# Asked at every connect. TODO: check which of its digits belong to this one instrument only.",
    `identity: { ask: ${quoted(identity.ask)}, expect: ${quoted(identityPattern(identity.answer))} }`,
  ];
}

/**
 * An identity answer as a pattern: serial number and firmware may be others, the rest may not.
 * @example identityPattern("HALL GAUGE,SN0042,FW1.3") // "^HALL GAUGE,SN\\d+,FW\\d+\\.\\d+$"
 */
function identityPattern(answer: string): string {
  const pattern = escaped(answer)
    .replace(/[^\x20-\x7e]/g, (character) => `\\x${character.charCodeAt(0).toString(16).padStart(2, "0")}`)
    .replace(
      /((?:SN|S\\\/N|NO|FW|SW|VER|REV|V)[=:. ]?)(\d+(?:\\\.\d+)*)/gi,
      (_, label: string, digits: string) => {
        return label + digits.replace(/\d+/g, "\\d+");
      },
    )
    .replace(/(?<![\\\dxA-Za-z])\d{4,}/g, "\\d+");
  return `^${pattern}$`;
}

function complaintLines({ complaints }: DraftFacts): string[] {
  if (complaints.length === 0) return [];
  const patterns = complaints.map((text) => `^${escaped(text).replace(/\d+/g, "\\d+")}$`);
  return [
    "# What it said to questions it does not know. TODO: hold against its manual.",
    `errors: [${[...new Set(patterns)].map(quoted).join(", ")}]`,
  ];
}

/** @example escaped("A?") // "A\\?" */
function escaped(text: string): string {
  return text.replace(/[\\^$.*+?()[\]{}|/]/g, "\\$&");
}

function modeLines({ poll, startUp, interval_s }: DraftFacts): string[] {
  const start =
    startUp === null
      ? []
      : [
          '# Sent at every connect. TODO: give its answer as expect: "^...$" in place of wait, where it has one.',
          `start_up: [{ send: ${quoted(startUp)}, wait: 200 ms }]`,
        ];
  if (poll) {
    const every_ms = Math.max(50, Math.ceil((poll.slowest_s * 1500) / 10) * 10);
    return [...start, `poll: { ask: ${quoted(poll.ask)}, every: ${every_ms} ms }`];
  }
  const stale_s = Math.max(1, Math.ceil(interval_s.longest * 5));
  return [
    ...start,
    `# About ${Number((1 / interval_s.typical).toPrecision(3))} lines a second. Without one for this long the gauge counts as silent.`,
    `stream: { stale_after: ${stale_s} s }`,
  ];
}

function checksumLines({ checksum, looksChecked, poll, identity }: DraftFacts): string[] {
  if (!checksum) {
    if (!looksChecked) return [];
    return [
      "# TODO: the lines seem to end in a checksum of a kind that was not recognised; it is not checked.",
    ];
  }
  const parts = [
    `kind: ${checksum.kind}`,
    ...(checksum.beginsAfter === "" ? [] : [`begins_after: ${quoted(checksum.beginsAfter)}`]),
    ...(checksum.separator === "" ? [] : [`separator: ${quoted(checksum.separator)}`]),
    `digits: ${checksum.digits}`,
    ...(checksum.lowByteFirst ? ["low_byte_first: true"] : []),
  ];
  return [
    "# Right on every line heard; the patterns see the line without it.",
    ...(poll || identity
      ? ["# It answered without one in the question; if it can take one, add sent: true."]
      : []),
    `checksum: { ${parts.join(", ")} }`,
  ];
}

function channelLines(
  { group, label, unit, texts }: ValueField,
  named: NamedChannel | null | undefined,
): string[] {
  if (named === null) return [];
  const numbers = texts.map(Number);
  const seen = `${Math.min(...numbers)} to ${Math.max(...numbers)} seen${label === "" ? "" : `, behind ${comment(label)}`}`;
  if (named) {
    const doubt = unit && unit.unit !== named.unit ? ` The line itself says ${unit.unit}!` : "";
    return [
      `  - { name: ${named.name}, quantity: ${named.quantity}, unit: ${quoted(named.unit)} } # ${seen}.${doubt}`,
    ];
  }
  const guessed = unit
    ? { quantity: unit.quantity, unit: unit.unit, todo: `TODO: name; the unit is the one on the line` }
    : { quantity: "ratio", unit: "fraction", todo: "TODO: name, quantity and unit; the line names no unit" };
  return [
    `  # ${seen}. ${guessed.todo}.`,
    `  - { name: ${group}, quantity: ${guessed.quantity}, unit: ${quoted(guessed.unit)} }`,
  ];
}

function sequenceLines({ sequence }: LineForm): string[] {
  if (!sequence) return [];
  const { group, modulus, isSure } = sequence;
  return [
    "",
    isSure
      ? "# Counts the readings, so that a lost one is noticed."
      : "# Counts the readings. TODO: where it begins anew was not seen; this is a guess.",
    `sequence: { group: ${group}, modulus: ${modulus} }`,
  ];
}

function timeLines({ time }: LineForm): string[] {
  return time
    ? ["", "# The instrument's own clock.", `time: { group: ${time.group}, unit: ${time.unit} }`]
    : [];
}

function statusLines({ status }: LineForm): string[] {
  if (!status) return [];
  const [good = "", ...others] = status.seen;
  return [
    "",
    "# TODO: which states mean a good reading, and which over_range; what is not listed here is refused. Add states",
    "# that did not come up to the reply pattern, too.",
    `status: { group: ${status.group}, good: [${quoted(good)}]${others.length > 0 ? `, invalid: [${others.map(quoted).join(", ")}]` : ""} }`,
  ];
}

function checksumLength({ checksum }: DraftFacts): number {
  return checksum ? checksum.separator.length + 4 : 0;
}

/** Room for more digits, so that only lines glued together are too long. */
function roomFor(longest: number): number {
  return Math.min(4096, Math.ceil((longest * 1.5 + 5) / 10) * 10);
}

/** Three times the slowest answer heard, and no less than a busy computer may keep any answer waiting. */
function replyWithin_ms({ poll }: DraftFacts): number {
  return Math.max(1000, Math.ceil(((poll?.slowest_s ?? 0) * 3000) / 100) * 100);
}

/** YAML in single quotes: nothing in it means anything but itself. */
function quoted(text: string): string {
  if (/[^\x20-\x7e\xa0-\xff]/.test(text)) return JSON.stringify(text);
  return `'${text.replaceAll("'", "''")}'`;
}

function comment(text: string): string {
  return text.replace(
    /[^\x20-\x7e]/g,
    (character) => `\\x${character.charCodeAt(0).toString(16).padStart(2, "0")}`,
  );
}
