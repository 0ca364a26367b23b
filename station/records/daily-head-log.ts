import { type KeyObject, randomBytes } from "node:crypto";
import { join } from "node:path";
import { type ChainHead, canonicalText, sha256Hex } from "./chain.ts";
import { ChainedLog } from "./chained-log.ts";
import { DAILY_HEADS, DailyHead, type HeadDraft, isSigned, signedHead } from "./daily-head.ts";
import { type Disk, REAL_DISK } from "./disk.ts";
import { makeFolders, unlinkIfThere, writeOnce } from "./durable-file.ts";
import { notAsRecorded } from "./record-error.ts";

/** A head that is on the disk. */
export interface WrittenHead extends ChainHead {
  readonly content: DailyHead;
  /** The file's whole text. */
  readonly text: string;
}

/** @returns a head's file, in whatever folder heads lie: "00000012.json" */
export function headName(sequence: number): string {
  return `${String(sequence).padStart(8, "0")}.json`;
}

/** A head in words: "head 12 of 2026-11-25 14:03 UTC". */
export function headText({ at, chain }: Pick<DailyHead, "at" | "chain">): string {
  return `head ${chain.sequence} of ${at.slice(0, 16).replace("T", " ")} UTC`;
}

/** The heads in a records folder. Only whoever has the folder's lock writes. */
export class DailyHeadLog {
  readonly #folder: string;
  readonly #log: ChainedLog<DailyHead>;
  readonly #disk: Disk;

  /** @param folder the records folder */
  constructor(folder: string, disk: Disk = REAL_DISK) {
    this.#folder = folder;
    this.#disk = disk;
    this.#log = new ChainedLog({ folder, name: DAILY_HEADS, what: "daily head", schema: DailyHead, disk });
  }

  /** @returns all, in order. @throws RecordError CORRUPT where they are no chain any more */
  async all(): Promise<readonly WrittenHead[]> {
    return (await this.#log.after(null)).map(written);
  }

  /** @returns the newest; null for none. @throws RecordError CORRUPT */
  async newest(): Promise<WrittenHead | null> {
    const end = await this.#log.end();
    if (end === null) return null;
    const [entry] = await this.#log.newest(({ chain }) => chain.sequence === end.sequence);
    return entry ? written(entry) : null;
  }

  /** @returns the hash of the first, by which these heads are told from others; null for none */
  async firstHash(): Promise<string | null> {
    try {
      const bytes = await this.#disk.readFile(join(this.#folder, DAILY_HEADS, headName(1)));
      return sha256Hex(bytes);
    } catch {
      return null;
    }
  }

  /**
   * Signs and writes the next head durably.
   * @throws RecordError; nothing was written then
   */
  async append(
    draft: Omit<HeadDraft, "chain" | "records_id">,
    key: { readonly privateKey: KeyObject; readonly publicKey: string },
  ): Promise<WrittenHead> {
    const newest = await this.newest();
    const sequence = (newest?.sequence ?? 0) + 1;
    const chain = { sequence, previous: newest?.sha256 ?? null };
    const records_id = newest?.content.records_id ?? randomBytes(16).toString("hex");
    const content = signedHead({ ...draft, records_id, chain }, key);
    const head = { content, text: canonicalText(content) };
    await this.put({ ...head, sequence, sha256: sha256Hex(head.text) });
    return { ...head, sequence, sha256: sha256Hex(head.text) };
  }

  /** Writes a head that was signed before, such as a copy that comes back. @throws RecordError */
  async put({ sequence, text }: WrittenHead): Promise<void> {
    await makeFolders(this.#folder, DAILY_HEADS, this.#disk);
    const folder = join(this.#folder, DAILY_HEADS);
    const temp = join(folder, ".head.part");
    await unlinkIfThere(temp, this.#disk);
    await writeOnce(text, temp, join(folder, headName(sequence)), this.#disk);
  }
}

/** @throws RecordError CORRUPT where a head is not signed by one of the station's keys */
export function requireSigned(
  folder: string,
  { content, sequence }: WrittenHead,
  keys: readonly string[] | null,
): void {
  const file = join(folder, DAILY_HEADS, headName(sequence));
  if (!isSigned(content)) throw notAsRecorded(file, "its signature does not hold");
  if (keys === null || keys.includes(content.public_key)) return;
  throw notAsRecorded(
    file,
    "it is signed with a key that is not the station's (where the station had another key before, its public key belongs under former_public_keys)",
  );
}

function written({ sequence, sha256, content }: ChainHead & { readonly content: DailyHead }): WrittenHead {
  return { sequence, sha256, content, text: canonicalText(content) };
}
