import { readdirSync } from "node:fs";
import { join } from "node:path";
import { AttemptIntent, intentFor } from "./attempt-intent.ts";
import type { Findings } from "./audit-finding.ts";
import { isLink } from "./audit-listing.ts";
import { AuditReader } from "./audit-read.ts";
import { canonicalText } from "./chain.ts";
import { OPEN_FOLDER } from "./record-name.ts";

/**
 * Looks at the attempts that were begun and are not recorded yet. Each carries a digest of what it says.
 * @returns their ids; those that turn out to have a traveller are to be taken out
 */
export function auditOpenAttempts(folder: string, findings: Findings): Set<string> {
  const ids = new Set<string>();
  const reader = new AuditReader();
  if (isLink(folder, OPEN_FOLDER, findings)) return ids;
  for (const name of namesIn(join(folder, OPEN_FOLDER))) {
    if (!name.endsWith(".json")) continue;
    const path = `${OPEN_FOLDER}/${name}`;
    const file = reader.read(join(folder, path));
    if (!file.ok) {
      // Its traveller was written meanwhile.
      if (!file.isGone) findings.add("unreadable", path, file.problem);
      continue;
    }
    const intent = intentIn(file.bytes);
    if (intent === null)
      findings.add("altered", path, "it is not the note of an open attempt that was written");
    else ids.add(intent);
  }
  return ids;
}

/** @returns the attempt's id, null where it does not fit the rest of the file */
function intentIn(bytes: Buffer): string | null {
  try {
    const text = bytes.toString("utf8");
    const { id, facts } = AttemptIntent.parse(JSON.parse(text));
    return canonicalText(intentFor(facts)) === text ? id : null;
  } catch {
    return null;
  }
}

function namesIn(path: string): readonly string[] {
  try {
    return readdirSync(path).sort();
  } catch {
    // A copy of the dated folders has none.
    return [];
  }
}
