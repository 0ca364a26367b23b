import { join } from "node:path";
import type { TrustedHead } from "./audit-heads.ts";
import type { ChainAudited } from "./audit-log.ts";
import { AuditReader } from "./audit-read.ts";
import { readRecord } from "./chain.ts";
import type { HeadChain } from "./daily-head.ts";
import { headText } from "./daily-head-log.ts";
import { Disposition } from "./disposition.ts";
import { StationEvent } from "./station-event.ts";
import { Traveller } from "./traveller.ts";

/** A record that can be relied on, with all before it. */
export interface TrustedPoint {
  readonly sequence: number;
  readonly sha256: string;
  /** "POD531812 attempt 1" of a traveller; what it is, of others. */
  readonly what: string;
  readonly at: string;
  /** The newest signed head that vouches for it; null where the chain alone does. */
  readonly head: string | null;
}

export interface ChainTrust {
  readonly count: number;
  readonly trusted: TrustedPoint | null;
  /** Sound by themselves and after the trusted point: chained, but no head vouches for them. */
  readonly unvouched: number;
}

export interface TrustAsked {
  readonly folder: string;
  readonly chain: HeadChain;
  readonly audited: ChainAudited;
  readonly heads: readonly TrustedHead[];
  /** Where the record with a number lies. */
  readonly pathOf: (sequence: number) => string | undefined;
}

/** The last record up to which nothing is wrong: by a signed head where there is one, else by the chain alone. */
export function trustOf({ folder, chain, audited, heads, pathOf }: TrustAsked): ChainTrust {
  const { count, last, walk } = audited;
  const soundTo = walk.firstBad === null ? last : walk.firstBad - 1;
  const vouched = walk.claimsHeld.filter((sequence) => sequence <= soundTo).at(-1);
  const sequence = vouched ?? soundTo;
  if (sequence < 1) return { count, trusted: null, unvouched: Math.max(0, soundTo) };
  const by = heads.filter(({ content }) => content[chain]?.sequence === sequence).at(-1);
  return {
    count,
    trusted: {
      sequence,
      ...described(join(folder, pathOf(sequence) ?? ""), chain),
      head: vouched !== undefined && by ? headText(by.content) : null,
    },
    unvouched: soundTo - sequence,
  };
}

function described(path: string, chain: HeadChain): Pick<TrustedPoint, "sha256" | "what" | "at"> {
  const file = new AuditReader().read(path);
  const record = file.ok ? readRecord(file.bytes) : undefined;
  if (!record?.ok) return { sha256: "", what: "", at: "" };
  const { sha256, content } = record;
  if (chain === "travellers") {
    const traveller = Traveller.safeParse(content).data;
    const attempt = `${traveller?.serial} attempt ${traveller?.attempt.number}`;
    return { sha256, what: attempt, at: traveller?.ended_at ?? traveller?.started_at ?? "" };
  }
  if (chain === "events") {
    const event = StationEvent.safeParse(content).data;
    return { sha256, what: event?.event ?? "", at: event?.at ?? "" };
  }
  const disposition = Disposition.safeParse(content).data;
  return { sha256, what: disposition?.kind ?? "", at: disposition?.at ?? "" };
}
