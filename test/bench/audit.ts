import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { audit } from "../../station/records/audit.ts";
import { canonicalText, sha256Hex } from "../../station/records/chain.ts";
import { travellerPath } from "../../station/records/record-name.ts";
import { smallFolder } from "../records/audited-folder.ts";
import { facts, outcome } from "../records/example-attempt.ts";
import { aside, atMost, type Bench } from "./figure.ts";

const FEW = 20_000;
const MANY = 100_000;
const PER_DAY = 2000;

/**
 * How long `drumtight audit` takes over 100,000 travellers with a leak curve of 400 samples each, against reading, hashing and
 * parsing the same files and nothing else; what its memory grows by from 20,000 to 100,000; and in a small folder with all that
 * there is in one, how many of all bytes of all files may have any one bit changed without being found and named.
 */
export const auditBench: Bench = async () => {
  const parent = mkdtempSync(join(tmpdir(), "drumtight-audit-"));
  try {
    const folder = join(parent, "many");
    let head: string | null = null;
    const paths: string[] = [];
    head = writeTravellers(folder, { from: 1, to: FEW, previous: head, paths });
    const few = await timed(() => audit({ folder, keys: null, copiesFolder: null }));
    writeTravellers(folder, { from: FEW + 1, to: MANY, previous: head, paths });
    const many = await timed(() => audit({ folder, keys: null, copiesFolder: null }));
    if (!few.result.intact || !many.result.intact)
      throw new Error("The audit finds fault with its own bench.");
    const bare = await timed(async () => readAll(folder, paths));
    const flips = await flipAll(parent);
    return [
      atMost(4, {
        figure: `time for ${MANY} travellers`,
        value: many.ms / 1000,
        unit: "s",
        against: `the same files read, hashed and parsed in ${(bare.ms / 1000).toFixed(1)} s`,
        ratio: many.ms / bare.ms,
      }),
      aside({
        figure: "travellers a second",
        value: Math.round((MANY / many.ms) * 1000),
        unit: "1/s",
        against: "-",
      }),
      aside({
        figure: `memory at its most, ${MANY} travellers`,
        value: Math.round(many.peak_MB),
        unit: "MB",
        against: `${Math.round(few.peak_MB)} MB for ${FEW}`,
        ratio: many.peak_MB / few.peak_MB,
      }),
      atMost(0, {
        figure: "changed bits that were not found",
        value: flips.missed,
        unit: "bits",
        against: `${flips.tried} bits, every one of every record, changed in turn`,
        ratio: flips.missed / flips.tried,
      }),
      atMost(0, {
        figure: "changed bits that were put down to another file",
        value: flips.unnamed,
        unit: "bits",
        against: `${flips.tried} bits`,
        ratio: flips.unnamed / flips.tried,
      }),
    ];
  } finally {
    rmSync(parent, { recursive: true, force: true });
  }
};

interface Written {
  readonly from: number;
  readonly to: number;
  readonly previous: string | null;
  readonly paths: string[];
}

/** As a station would have written them, without its syncs. @returns the last one's hash */
function writeTravellers(folder: string, { from, to, previous: before, paths }: Written): string | null {
  let previous = before;
  const result = outcome();
  for (let sequence = from; sequence <= to; sequence++) {
    const serial = `A${sequence}`;
    const day = new Date(Date.UTC(2026, 0, 5 + Math.floor(sequence / PER_DAY), 6)).toISOString();
    const traveller = {
      format: "drumtight/traveller/1",
      id: sequence.toString(16).padStart(32, "0"),
      ...facts(serial, 1, { started_at: day }),
      ...result,
      ended_at: day,
      chain: { sequence, previous },
    };
    const text = canonicalText(traveller);
    previous = sha256Hex(text);
    const path = travellerPath({ sequence, serial, attempt: 1, started_at: day, ended_at: day });
    if (sequence % PER_DAY === 0 || sequence === from)
      mkdirSync(join(folder, dirname(path)), { recursive: true });
    writeFileSync(join(folder, path), text);
    paths.push(path);
  }
  return previous;
}

function readAll(folder: string, paths: readonly string[]): number {
  let sound = 0;
  for (const path of paths) {
    const bytes = readFileSync(join(folder, path));
    if (sha256Hex(bytes).length > 0 && JSON.parse(bytes.toString("utf8")) !== null) sound++;
  }
  return sound;
}

async function timed<T>(work: () => Promise<T>): Promise<{ result: T; ms: number; peak_MB: number }> {
  const start_ms = performance.now();
  const result = await work();
  return { result, ms: performance.now() - start_ms, peak_MB: process.resourceUsage().maxRSS / 1000 };
}

async function flipAll(parent: string): Promise<{ tried: number; missed: number; unnamed: number }> {
  const small = await smallFolder(parent);
  // Without the index, which is no evidence; the database would keep a descriptor of each until its memory is cleared, too.
  for (const name of readdirSync(small.folder))
    if (name.startsWith(".index")) rmSync(join(small.folder, name));
  let [tried, missed, unnamed] = [0, 0, 0];
  for (const file of small.files()) {
    const path = join(small.folder, file);
    const bytes = readFileSync(path);
    for (let at = 0; at < 8 * bytes.length; at++) {
      const changed = Buffer.from(bytes);
      changed[at >> 3] = (bytes[at >> 3] ?? 0) ^ (1 << (at & 7));
      writeFileSync(path, changed);
      const { intact, findings } = await small.audit();
      tried++;
      if (intact) missed++;
      else if (!findings.some((finding) => finding.path === file)) unnamed++;
    }
    writeFileSync(path, bytes);
  }
  return { tried, missed, unnamed };
}
