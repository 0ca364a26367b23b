import { sha256Hex } from "./chain.ts";
import { attemptIn, type RecordFile, safeSerial, safeSerialIn } from "./record-name.ts";
import type { CheckedTest } from "./suspect-units.ts";

/** A check that failed, or that may have. */
export interface FailedCheck extends CheckedTest {
  /** Relative to the records folder: of one that can't be read, so that nobody knows how it ended. */
  readonly unread?: string;
}

/**
 * Records that can't be read, or are none, and are named for a reference piece: each may be the failed check that nobody is to see, and
 * is taken for one.
 * @param tests among which the pieces have other checks
 * @param historyOf the tests that an index has of a serial
 */
export function unreadChecks(
  files: readonly RecordFile[],
  tests: readonly CheckedTest[],
  historyOf: (serial: string) => readonly CheckedTest[],
): FailedCheck[] {
  return files.flatMap((file): FailedCheck[] => {
    const safe = safeSerialIn(file.path);
    const isCheck = (it: CheckedTest) => it.recordKind === "reference" && safeSerial(it.serial) === safe;
    const other = tests.find(isCheck) ?? historyOf(safe).find(isCheck);
    if (!other) return [];
    const { sequence, path } = file;
    const at = `${path.slice(0, "2026/01/05".length).replaceAll("/", "-")}T00:00:00.000Z`;
    return [
      {
        ...other,
        ...{ sequence, sha256: sha256Hex(path), attempt: attemptIn(file), started_at: at, ended_at: at },
        ...{ draft: false, verdict: "fail", reference: null, unread: path },
      },
    ];
  });
}
