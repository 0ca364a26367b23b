import type { Approval, TrustedKey } from "../limits/approval.ts";
import { readLimitFile } from "../limits/limit-file.ts";
import type { ModelLimits } from "../limits/model.ts";
import { approvalBeside, historiesBeside } from "./limit-history-file.ts";
import { travellersOf } from "./records/model-travellers.ts";

/** One approval of a limit file, or a revision that judged units and of which no approval is known here. */
export interface LoggedRevision {
  readonly revision: number;
  readonly sha256: string;
  readonly effective_date: string | null;
  readonly author: string | null;
  readonly approver: string | null;
  readonly approved_at: string | null;
  readonly reason: string | null;
  /** Attempts judged by exactly these bytes; null where no records were asked. */
  readonly used: { attempts: number; drafts: number; first: string; last: string } | null;
}

export interface LimitLog {
  readonly model: string;
  /** By revision, then by when they were approved. */
  readonly revisions: readonly LoggedRevision[];
  /** What is in place now, and whether it stands among the approvals. */
  readonly in_place: {
    readonly revision: number;
    readonly sha256: string;
    readonly approved: boolean;
    /** The highest higher revision that was approved and has taken effect. */
    readonly superseded_by: number | null;
  };
  /** Sentences about what does not fit together. */
  readonly problems: readonly string[];
}

type Used = Map<
  string,
  { revision: number; approver: string | null; used: NonNullable<LoggedRevision["used"]> }
>;

/**
 * Who approved which revision of a limit file when and why, by the history beside it, and which judged units when.
 * @param recordsFolder null: nobody asks which judged units
 * @param today ISO 8601 calendar date
 * @param approvers whose keys count; null: nobody asks whose they are
 * @throws RecordError when the records can't be read
 */
export async function limitLog(
  limits: ModelLimits,
  recordsFolder: string | null,
  approvers: readonly TrustedKey[] | null,
  today: string,
): Promise<LimitLog> {
  const { path, sha256 } = limits.source;
  const histories = historiesBeside(limits);
  const beside = approvalBeside(path);
  const problems = histories.flatMap((history) =>
    history.problem === null ? [] : [`${history.path} is not as it was written: ${history.problem}.`],
  );
  const known: { approval: Approval; text: string | null }[] = histories.flatMap(({ entries }) => entries);
  if (beside && !known.some(({ approval }) => approval.signature === beside.signature)) {
    known.push({ approval: beside, text: null });
    if (known.length > 1)
      problems.push(
        `The approval beside ${path}, of revision ${beside.revision}, does not stand in its history: lines are missing there, or it was given elsewhere.`,
      );
  }
  problems.push(
    ...(approvers === null ? [] : known.flatMap(({ approval }) => untrusted(approval, approvers))),
  );
  const used = recordsFolder === null ? null : await usedIn(recordsFolder, limits.model, problems);
  const revisions = known.map(({ approval, text }): LoggedRevision => {
    const limitsThen = approval.sha256 === sha256 ? limits : readOrNull(text);
    return {
      revision: approval.revision,
      sha256: approval.sha256,
      effective_date: limitsThen?.effectiveDate ?? null,
      author: approval.author,
      approver: approval.approver,
      approved_at: approval.approved_at,
      reason: limitsThen?.reason ?? null,
      used: used?.get(approval.sha256)?.used ?? null,
    };
  });
  for (const [hash, { revision, approver, used: how }] of used ?? []) {
    if (known.some(({ approval }) => approval.sha256 === hash)) continue;
    const unknown = { effective_date: null, author: null, approved_at: null, reason: null };
    revisions.push({ revision, sha256: hash, ...unknown, approver, used: how });
  }
  return {
    model: limits.model,
    revisions: revisions.sort(
      (a, b) => a.revision - b.revision || (a.approved_at ?? "").localeCompare(b.approved_at ?? ""),
    ),
    in_place: {
      revision: limits.revision,
      sha256,
      approved: beside?.sha256 === sha256,
      superseded_by: supersededBy(limits.revision, revisions, today),
    },
    problems,
  };
}

function supersededBy(revision: number, known: readonly LoggedRevision[], today: string): number | null {
  const newest = Math.max(
    0,
    ...known
      .filter((it) => it.approved_at !== null && (it.effective_date ?? today) <= today)
      .map((it) => it.revision),
  );
  return newest > revision ? newest : null;
}

function untrusted({ approver, public_key, revision }: Approval, keys: readonly TrustedKey[]): string[] {
  if (keys.some(({ name, publicKey }) => publicKey === public_key && name === approver)) return [];
  return [
    `Revision ${revision} was approved in the name of ${approver} with a key that the station does not list: it may be anybody's.`,
  ];
}

async function usedIn(folder: string, model: string, problems: string[]): Promise<Used> {
  const used: Used = new Map();
  for await (const found of travellersOf(folder, { model })) {
    if (found.kind === "broken") {
      problems.push(`${found.path} is not as it was recorded and was left out: ${found.problem}.`);
      continue;
    }
    const { limit_file, started_at, draft: countsNot, study } = found.traveller;
    // What is measured for a study does not count either, and is no draft's for that.
    const draft = countsNot && (!study || limit_file.approved_by === null);
    const known = used.get(limit_file.sha256);
    if (known) {
      known.used.attempts++;
      if (draft) known.used.drafts++;
      if (started_at < known.used.first) known.used.first = started_at;
      if (started_at > known.used.last) known.used.last = started_at;
    } else {
      const first = { attempts: 1, drafts: draft ? 1 : 0, first: started_at, last: started_at };
      used.set(limit_file.sha256, {
        revision: limit_file.revision,
        approver: limit_file.approved_by,
        used: first,
      });
    }
  }
  return used;
}

function readOrNull(text: string | null): ModelLimits | null {
  try {
    return text === null ? null : readLimitFile("history", text);
  } catch {
    // Written for another version of the program.
    return null;
  }
}
