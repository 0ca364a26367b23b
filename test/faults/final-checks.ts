import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { audit } from "../../station/records/audit.ts";
import { IndexedAttempts } from "../../station/records/indexed-attempts.ts";
import { type KeptRecords, RecordFiles } from "./kept-records.ts";
import { ModelledDisk } from "./modelled-disk.ts";
import {
  accountProblems,
  chainProblems,
  holdsMissing,
  notProven,
  numberProblems,
  ruleBreaks,
  tellingProblems,
} from "./record-checks.ts";
import { RECORDS, type Shift } from "./shift.ts";
import type { Invariant } from "./witness.ts";

/** Looks through what a shift has left on the disk. */
export async function finalChecks(shift: Shift): Promise<void> {
  const { witness, limits, variant, platter } = shift;
  const records = new RecordFiles().read(platter.files(RECORDS, true));
  const all = (invariant: Invariant, texts: readonly string[]) => {
    for (const text of texts) shift.violated({ invariant, text });
  };
  all("chain broken", await chainProblems(records));
  // Its removal need not be durable: should a power cut bring it back, the next start finds the traveller.
  const { open } = new RecordFiles().read(platter.files(RECORDS));
  all("attempt lost or doubled", [
    ...accountProblems(records, witness.begun),
    ...tellingProblems(records, witness.told),
    ...numberProblems(records),
    ...open.map((path) => `${path} is still open`),
  ]);
  all("unit not on hold", [...holdsMissing(records), ...shift.colleague.lost(records)]);
  all("retest rule broken", ruleBreaks(records, limits.retest));
  all("station not proven", notProven(records, piecesOf(shift), variant.afterFault));
  // Before it is made anew.
  all("index differs", decidedProblems(shift, records));
  all("index differs", await indexProblems(shift));
  all("audit finds", await auditFindings(shift));
}

/** The station's own audit of what lies on the modelled disk, on a real one. */
async function auditFindings({ platter, publicKey, variant }: Shift): Promise<string[]> {
  const folder = mkdtempSync(join(tmpdir(), "drumtight-audited-"));
  try {
    for (const { path, text } of platter.files(RECORDS)) {
      mkdirSync(dirname(join(folder, path)), { recursive: true });
      writeFileSync(join(folder, path), text);
    }
    const { findings, heads } = await audit({ folder, keys: [publicKey], copiesFolder: null });
    const found = findings.map(({ path, what }) => `${path}: ${what}`);
    if (variant.signsHeads && heads.count === 0) found.push("no head was signed");
    return found;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

function piecesOf({ variant: { pieces, model } }: Shift): string[] {
  const kinds = { all: ["TIGHT", "LEAK", "ORIFICE"], leak: ["TIGHT", "LEAK"], none: [] }[pieces];
  return kinds.map((kind) => `REF-${kind}-${model}`);
}

/** The index's dispositions, against the first so many files: commands record without it. */
function decidedProblems({ platter }: Shift, { dispositions }: KeptRecords): string[] {
  const database = platter.database(`${RECORDS}/.index.db`);
  const rows = database.rows("SELECT * FROM dispositions ORDER BY sequence");
  const named = database.rows("SELECT * FROM disposed_units ORDER BY sequence, serial");
  const first = dispositions.slice(0, rows.length);
  const expected = first.map(({ content, sha256, text }) => ({
    sequence: content.chain.sequence,
    sha256,
    text,
  }));
  const units = first.flatMap(({ content }) =>
    [...new Set(content.units.map(({ serial }) => serial))]
      .sort()
      .map((serial) => ({ serial, sequence: content.chain.sequence })),
  );
  const isSame = JSON.stringify([rows, named]) === JSON.stringify([expected, units]);
  return isSame
    ? []
    : [`its ${rows.length} dispositions are not the first of ${dispositions.length} on disk`];
}

/** The index as the station left it, against one made anew from the files. */
async function indexProblems(shift: Shift): Promise<string[]> {
  const disk = new ModelledDisk(
    {
      platter: shift.platter,
      random: shift.random,
      trouble: null,
      accident: null,
      unread: null,
      operations: 0,
      before: () => {},
    },
    { isRunning: () => true, setTimeout: (fn) => setImmediate(fn) },
  );
  const path = `${RECORDS}/.index.db`;
  const rows = () => shift.platter.database(path).rows("SELECT * FROM attempts ORDER BY sequence");
  const left = rows();
  shift.platter.removeDatabase(path);
  const anew = new IndexedAttempts(RECORDS, disk);
  await anew.sync();
  const made = rows();
  const at = made.findIndex((row, k) => JSON.stringify(row) !== JSON.stringify(left[k]));
  if (at < 0 && made.length === left.length) return [];
  return [`${left.length} rows against ${made.length} made anew, the first that differs is ${at + 1}`];
}
