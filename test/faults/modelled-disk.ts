import { dirname } from "node:path";
import Database from "libsql";
import type { RandomStream } from "../../sim/random.ts";
import type { Disk, OpenFile } from "../../station/records/disk.ts";
import { newFolder, type Platter, type PlatterFile, type PlatterNode } from "./platter.ts";

/** What is wrong with the disk for a while. */
export type DiskTrouble =
  | "full" // nothing more can be written
  | "faulty" // every other operation ends with EIO
  | "read_only" // as a file system remounts itself after errors
  | "gone" // pulled out, or the file share does not answer
  | "slow"; // a disk that is busy, or wakes up

/** What a single write may come to. */
export type WriteAccident = "altered" | "half_written";

/** The disk as all programs on the machine share it. */
export interface DiskState {
  readonly platter: Platter;
  readonly random: RandomStream;
  trouble: DiskTrouble | null;
  /** Of the next file that is written. */
  accident: WriteAccident | null;
  /** The last file that came out altered, as long as who wrote it has not read it back and gone on to another. */
  unread: { readonly file: PlatterNode; readonly writer: DiskUser; wasRead: boolean } | null;
  /** Operations so far. */
  operations: number;
  /** Called before each operation; a crash in it means that the operation, and everything after it, never happens. */
  before: () => void;
}

/** A program that uses the disk, as long as it runs. */
export interface DiskUser {
  isRunning(): boolean;
  /** Time as the program has it: one that is held up hears of nothing. */
  setTimeout(fn: () => void, delay_ms: number): unknown;
}

const FREE_BYTES = 10e9;

/** One program's view of the modelled disk. Once the program has ended, nothing that it still waits for ever comes. */
export class ModelledDisk implements Disk {
  /** Who holds a lock that was taken through here. */
  readonly user: DiskUser;
  readonly #state: DiskState;
  /** Operations handed to the system and not answered: at a crash each may have been done or not. */
  readonly #underWay = new Set<() => void>();

  constructor(state: DiskState, user: DiskUser) {
    this.#state = state;
    this.user = user;
  }

  /** The program has ended: of what it had under way the system may have done some. */
  abandon(): void {
    for (const effect of this.#underWay) {
      if (!this.#state.random.chance(0.5)) continue;
      try {
        effect();
      } catch {
        // It would have been refused; nobody hears it.
      }
    }
    this.#underWay.clear();
  }

  open(path: string, flags: "wx" | "r"): Promise<OpenFile> {
    const { platter } = this.#state;
    return this.#do(flags === "wx" ? "make" : "read", path, () => {
      const known = platter.nodeAt(path);
      if (flags === "r") {
        if (!known) throw systemError("ENOENT", "open", path);
        return this.#opened(path, known);
      }
      if (known) throw systemError("EEXIST", "open", path);
      const { unread } = this.#state;
      if (unread?.wasRead && unread.writer === this.user) this.#state.unread = null;
      this.#folderOf(path, "open");
      const file: PlatterFile = { kind: "file", text: "", durable: "" };
      platter.name(path, file);
      return this.#opened(path, file);
    });
  }

  readFile(path: string): Promise<Buffer> {
    return this.#do("read", path, () => {
      const node = this.#state.platter.nodeAt(path);
      if (!node) throw systemError("ENOENT", "open", path);
      if (node.kind === "folder") throw systemError("EISDIR", "read", path);
      const { unread } = this.#state;
      // Of a program that has ended nobody looks at what was read.
      if (unread?.file === node && unread.writer === this.user && this.user.isRunning())
        unread.wasRead = true;
      return Buffer.from(node.text, "utf8");
    });
  }

  readdir(path: string): Promise<string[]> {
    return this.#do("read", path, () => {
      const folder = this.#state.platter.folderAt(path);
      if (!folder) throw systemError("ENOENT", "scandir", path);
      return [...folder.names.keys()];
    });
  }

  mkdir(path: string): Promise<void> {
    return this.#do("make", path, () => {
      if (this.#state.platter.nodeAt(path)) throw systemError("EEXIST", "mkdir", path);
      this.#folderOf(path, "mkdir");
      this.#state.platter.name(path, newFolder());
    });
  }

  link(path: string, name: string): Promise<void> {
    return this.#do("make", name, () => {
      const node = this.#state.platter.nodeAt(path);
      if (!node) throw systemError("ENOENT", "link", path);
      if (this.#state.platter.nodeAt(name)) throw systemError("EEXIST", "link", name);
      this.#folderOf(name, "link");
      this.#state.platter.name(name, node);
    });
  }

  rename(from: string, to: string): Promise<void> {
    return this.#do("make", to, () => {
      const node = this.#state.platter.nodeAt(from);
      if (!node) throw systemError("ENOENT", "rename", from);
      this.#folderOf(to, "rename");
      this.#state.platter.name(to, node);
      this.#state.platter.name(from, null);
    });
  }

  unlink(path: string): Promise<void> {
    return this.#do("remove", path, () => {
      if (!this.#state.platter.nodeAt(path)) throw systemError("ENOENT", "unlink", path);
      this.#state.platter.name(path, null);
    });
  }

  access(path: string, wanted: "there" | "writable"): Promise<void> {
    return this.#do("read", path, () => {
      if (!this.#state.platter.nodeAt(path)) throw systemError("ENOENT", "access", path);
      if (wanted === "writable" && this.#state.trouble === "read_only") {
        throw systemError("EROFS", "access", path);
      }
    });
  }

  freeBytes(path: string): Promise<number> {
    return this.#do("read", path, () => (this.#state.trouble === "full" ? 0 : FREE_BYTES));
  }

  database(path: string) {
    this.#requireRunning();
    const refusal = this.#databaseRefusal("read");
    if (refusal) throw refusal;
    return this.#state.platter.database(path).open(this.user, (what) => this.#databaseRefusal(what));
  }

  readNow(path: string): string {
    this.#requireRunning();
    const node = this.#state.platter.nodeAt(path);
    if (node?.kind !== "file") throw systemError("ENOENT", "open", path);
    return node.text;
  }

  writeNow(path: string, text: string): void {
    this.#requireRunning();
    const errno = this.#errnoFor("make");
    if (errno) throw systemError(errno, "open", path);
    this.#state.platter.name(path, { kind: "file", text, durable: "" });
  }

  removeNow(path: string): void {
    this.#requireRunning();
    const errno = this.#errnoFor("remove");
    if (errno) throw systemError(errno, "unlink", path);
    this.#state.platter.removeDatabase(path);
    if (this.#state.platter.nodeAt(path)) this.#state.platter.name(path, null);
  }

  #opened(path: string, node: NonNullable<ReturnType<Platter["nodeAt"]>>): OpenFile {
    const state = this.#state;
    return {
      writeFile: (text) =>
        this.#do("write", path, () => {
          if (node.kind !== "file") throw systemError("EISDIR", "write", path);
          const { accident } = state;
          state.accident = null;
          node.text = accident === "altered" ? altered(text, state.random) : text;
          if (accident === "altered") state.unread = { file: node, writer: this.user, wasRead: false };
          if (accident !== "half_written") return;
          node.text = text.slice(0, Math.floor(state.random.between(0, text.length)));
          throw systemError(state.random.pick(["ENOSPC", "EIO"]), "write", path);
        }),
      sync: () => this.#do("sync", path, () => state.platter.sync(node)),
      close: () => this.#do("close", path, () => undefined),
    };
  }

  #folderOf(path: string, call: string): void {
    if (!this.#state.platter.folderAt(dirname(path))) throw systemError("ENOENT", call, path);
  }

  /** An operation takes time, in which anything may happen; at its end it is done, whole, and answered. */
  #do<T>(kind: Operation, path: string, effect: () => T): Promise<T> {
    const state = this.#state;
    if (!this.user.isRunning()) return never();
    state.operations++;
    state.before();
    if (!this.user.isRunning()) return never();
    return new Promise<T>((resolve, reject) => {
      const done = () => {
        if (!this.user.isRunning()) return;
        this.#underWay.delete(effect);
        const errno = this.#errnoFor(kind);
        try {
          if (errno) throw systemError(errno, kind, path);
          resolve(effect());
        } catch (error) {
          reject(error);
        }
      };
      this.#underWay.add(effect);
      this.user.setTimeout(done, this.#takes_ms(kind));
    });
  }

  #takes_ms(kind: Operation): number {
    const usual_ms = kind === "sync" ? 3 : 0.1;
    const isSlow = this.#state.trouble === "slow" && kind === "sync";
    return this.#state.random.between(0.5, 1.5) * (isSlow ? 1500 : usual_ms);
  }

  #errnoFor(kind: Operation): string | null {
    const { trouble, random } = this.#state;
    const isWriting = kind !== "read" && kind !== "close";
    switch (trouble) {
      case "full":
        // An empty file may still fit into the folder.
        if (kind === "write") return "ENOSPC";
        return kind === "make" && random.chance(0.7) ? "ENOSPC" : null;
      case "faulty":
        return kind !== "close" && random.chance(0.5) ? "EIO" : null;
      case "read_only":
        return isWriting ? "EROFS" : null;
      case "gone":
        return kind === "close" ? null : "ESTALE";
      default:
        return null;
    }
  }

  #databaseRefusal(what: "read" | "write"): Error | null {
    this.#requireRunning();
    const { trouble, random } = this.#state;
    const refused = (code: string, number: number) =>
      new Database.SqliteError(`database refused: ${code}`, code, number);
    switch (trouble) {
      case "full":
        return what === "write" ? refused("SQLITE_FULL", 13) : null;
      case "faulty":
        return random.chance(0.5) ? refused("SQLITE_IOERR", 10) : null;
      case "read_only":
        return what === "write" ? refused("SQLITE_READONLY", 8) : null;
      case "gone":
        return refused("SQLITE_IOERR", 10);
      default:
        return null;
    }
  }

  /** A call that is over at once can't wait for ever: what an ended program makes of the error, nobody sees. */
  #requireRunning(): void {
    if (!this.user.isRunning()) throw new Error("This program has ended.");
  }
}

type Operation = "read" | "make" | "write" | "sync" | "remove" | "close";

function never<T>(): Promise<T> {
  return new Promise(() => {});
}

function systemError(code: string, call: string, path: string): Error {
  return Object.assign(new Error(`${code}: ${call} '${path}'`), { code });
}

/** One character is another one, as after a flipped bit. */
function altered(text: string, random: RandomStream): string {
  const at = Math.floor(random.between(0, text.length));
  const other = text[at] === "7" ? "3" : "7";
  return text.slice(0, at) + other + text.slice(at + 1);
}
