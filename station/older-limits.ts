import { join } from "node:path";
import type { TrustedKey } from "../limits/approval.ts";
import type { ModelInForce } from "./cycle/refusals.ts";
import { knownOfHistory } from "./limit-history-file.ts";
import { readRecord } from "./records/chain.ts";
import { type Disk, REAL_DISK } from "./records/disk.ts";
import type { RecordStore } from "./records/store.ts";
import { Traveller } from "./records/traveller.ts";

/**
 * Takes the approval from each limit file that has a lower revision than the one its model was judged by last, or than one
 * approved by the history beside it whose day has come: such a file was put back, and its approval, genuine as it is, is for
 * another time. Also from one that says something else than what judged, or was approved, under its number.
 * @returns the models as they may be judged, and a sentence for each that may not be any more
 * @throws RecordError when the index can't be read
 */
export async function refuseOlder(
  models: readonly ModelInForce[],
  store: Pick<RecordStore, "folder" | "newestOf">,
  by: { readonly approvers: readonly TrustedKey[]; readonly today: string },
  disk: Disk = REAL_DISK,
): Promise<{ readonly models: readonly ModelInForce[]; readonly refused: readonly string[] }> {
  const refused: string[] = [];
  const inForce: ModelInForce[] = [];
  for (const model of models) {
    const older =
      model.notApproved === null
        ? ((await whyOlder(model.limits, store, disk)) ?? whySuperseded(model.limits, by))
        : null;
    inForce.push(older === null ? model : { ...model, approvedBy: null, notApproved: older });
    if (older !== null) refused.push(older);
  }
  return { models: inForce, refused };
}

/** By the approvals beside the file: one that is newer, and whose day has come, was put away. */
function whySuperseded(
  limits: ModelInForce["limits"],
  { approvers, today }: { readonly approvers: readonly TrustedKey[]; readonly today: string },
): string | null {
  const { model, revision, source } = limits;
  const { newest, other } = knownOfHistory(limits, approvers, today);
  if (other !== null) {
    return `${source.path} says something else than what ${other.approver} approved as revision ${revision} of ${model} on ${other.approved_at.slice(0, 10)}. Put that file back, or give this one revision ${revision + 1} and have it approved.`;
  }
  if (newest <= revision) return null;
  return `${source.path} is revision ${revision} of ${model}, and revision ${newest} is approved and in force. Put that one in its place; where the older limits are wanted, give them a higher revision and have them approved.`;
}

async function whyOlder(
  { model, revision, source }: ModelInForce["limits"],
  store: Pick<RecordStore, "folder" | "newestOf">,
  disk: Disk,
): Promise<string | null> {
  const newest = await store.newestOf(model);
  if (newest === null) return null;
  const path = join(store.folder, newest.path);
  const bytes = await disk.readFile(path).catch(() => null);
  const record = bytes && readRecord(bytes);
  const judgedBy = record?.ok ? Traveller.safeParse(record.content).data?.limit_file : undefined;
  if (!judgedBy) {
    return `The last traveller of ${model}, ${path}, can't be read, so that nobody knows by which limits it was judged. Look with drumtight audit.`;
  }
  if (judgedBy.revision < revision) return null;
  if (judgedBy.revision === revision) {
    if (judgedBy.sha256 === source.sha256) return null;
    return `${source.path} says something else than revision ${revision} of ${model} did when it judged ${newest.serial} (${newest.path}). Put that file back, or give this one revision ${revision + 1} and have it approved.`;
  }
  return `${source.path} is revision ${revision} of ${model}, and revision ${judgedBy.revision} judged units already. Put that one back, or set this computer's clock right where it was put back; where the older limits are wanted, give them a higher revision and have them approved.`;
}
