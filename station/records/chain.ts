import { hash } from "node:crypto";
import canonicalize from "canonicalize";
import { RecordError } from "./record-error.ts";

/** A record's place in the chain: its number from 1 on, and the hash of the record before it, null for the first. */
export interface ChainLink {
  readonly sequence: number;
  readonly previous: string | null;
}

/** The end of a chain: the last record's number and hash. */
export interface ChainHead {
  readonly sequence: number;
  readonly sha256: string;
}

export interface RecordBytes {
  readonly path: string;
  readonly bytes: Uint8Array;
}

/** What a record's bytes say, before anything is believed of their meaning. */
export type ReadRecord =
  | { readonly ok: true; readonly sha256: string; readonly chain: ChainLink; readonly content: unknown }
  | { readonly ok: false; readonly problem: string };

export type ChainReport =
  | { readonly ok: true; readonly count: number; readonly head: ChainHead | null }
  | { readonly ok: false; readonly path: string; readonly problem: string };

const SHA256_HEX = /^[0-9a-f]{64}$/;

/**
 * The one JSON text of a value: members sorted, numbers and strings in their shortest form, no spaces.
 * @throws RecordError INVALID_RECORD on NaN, infinities and halves of surrogate pairs, which JSON can't carry
 * @see RFC 8785, JSON Canonicalization Scheme, section 3.2
 */
export function canonicalText(value: unknown): string {
  let text: string | undefined;
  try {
    text = canonicalize(value);
  } catch (cause) {
    throw notJson(cause instanceof Error ? cause.message : String(cause), cause);
  }
  if (text === undefined) throw notJson("it is undefined");
  // JSON.stringify writes nothing but half surrogates as \ud...; an even run of backslashes before it is text.
  if (text.includes("\\ud") && /(?<!\\)(?:\\\\)*\\ud[89a-f]/.test(text)) {
    throw notJson("a text in it is not valid Unicode");
  }
  return text;
}

/** @returns 64 lower-case hex digits, FIPS 180-4; of a text, over its UTF-8 bytes */
export function sha256Hex(data: string | Uint8Array): string {
  return hash("sha256", data, "hex");
}

/** Reads a record strictly: UTF-8, JSON, in canonical form to the last byte, with a place in the chain. */
export function readRecord(bytes: Uint8Array): ReadRecord {
  let content: unknown;
  try {
    const text = new TextDecoder("utf-8", { fatal: true, ignoreBOM: true }).decode(bytes);
    content = JSON.parse(text);
    if (!isCanonical(text, content)) return { ok: false, problem: "it is not in canonical form" };
  } catch {
    return { ok: false, problem: "it is not readable JSON" };
  }
  const chain = chainIn(content);
  if (chain === null) return { ok: false, problem: "it has no valid place in the chain" };
  return { ok: true, sha256: sha256Hex(bytes), chain, content };
}

/** Without a schema, whose library takes longer to load than `drumtight find` may take. */
function chainIn(content: unknown): ChainLink | null {
  if (!isObject(content) || !isObject(content.chain)) return null;
  const { sequence, previous, ...others } = content.chain;
  if (!Number.isSafeInteger(sequence) || Number(sequence) <= 0 || Object.keys(others).length > 0) return null;
  if (previous !== null && !(typeof previous === "string" && SHA256_HEX.test(previous))) return null;
  return { sequence: Number(sequence), previous };
}

function isObject(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}

/**
 * Follows the chain through all records.
 * @param files in order of their sequence
 * @param after the record the first of them must follow; null at the chain's start
 * @returns the count and the last record, or the first file that is not what was recorded and why
 */
export async function verifyChain(
  files: Iterable<RecordBytes> | AsyncIterable<RecordBytes>,
  after: ChainHead | null = null,
): Promise<ChainReport> {
  let head = after;
  let count = 0;
  for await (const { path, bytes } of files) {
    const record = readRecord(bytes);
    const problem = record.ok ? linkProblem(record.chain, head) : record.problem;
    if (problem !== null || !record.ok) return { ok: false, path, problem: problem ?? "" };
    head = { sequence: record.chain.sequence, sha256: record.sha256 };
    count++;
  }
  return { ok: true, count, head };
}

/** @returns what is wrong with a record that should follow `head`, null if nothing is */
export function linkProblem(link: ChainLink, head: ChainHead | null): string | null {
  const expected = (head?.sequence ?? 0) + 1;
  if (link.sequence !== expected) {
    return `it is number ${link.sequence} in the chain where number ${expected} should follow`;
  }
  if (link.previous !== (head?.sha256 ?? null)) {
    return "it does not carry the hash of the record before it: one of the two was changed after it was recorded";
  }
  return null;
}

/**
 * Whether `canonicalText` of what was parsed from a text gives that text again. The engine's own JSON text differs from
 * it in the order of members only, and writes a half surrogate where the other refuses; it is three times as fast.
 */
function isCanonical(text: string, parsed: unknown): boolean {
  if (JSON.stringify(parsed) === text && hasSortedMembers(parsed) && !text.includes("\\ud")) return true;
  return canonicalText(parsed) === text;
}

/** @returns whether every object in it has its members in order of their UTF-16 code units, RFC 8785 section 3.2.3 */
function hasSortedMembers(value: unknown): boolean {
  if (typeof value !== "object" || value === null) return true;
  if (Array.isArray(value)) return value.every(hasSortedMembers);
  let before: string | undefined;
  for (const [name, member] of Object.entries(value)) {
    if (before !== undefined && before >= name) return false;
    if (!hasSortedMembers(member)) return false;
    before = name;
  }
  return true;
}

function notJson(why: string, cause?: unknown): RecordError {
  return new RecordError("INVALID_RECORD", "", `This record can't be written as JSON: ${why}.`, { cause });
}
