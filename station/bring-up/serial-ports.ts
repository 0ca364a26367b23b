import {
  accessSync,
  constants,
  readdirSync,
  readFileSync,
  readlinkSync,
  realpathSync,
  statSync,
} from "node:fs";
import { basename, join } from "node:path";

/** A serial port and what the system knows of it; null where it does not know. */
export interface PortFacts {
  readonly path: string;
  /** A name that stays when the adapter is plugged in again, or elsewhere. */
  readonly lasting: string | null;
  readonly driver: string | null;
  readonly maker: string | null;
  readonly product: string | null;
  readonly serial: string | null;
  readonly mayOpen: boolean;
  /** Who may, where this user may not. */
  readonly group: string | null;
  /** Program that has it open or locked, as "drumtight (1234)"; "another program" where its name may not be read. */
  readonly user: string | null;
}

export interface PortList {
  readonly ports: readonly PortFacts[];
  /** What could not be found out, in sentences. */
  readonly notes: readonly string[];
}

/** The tree that is read: "/" but in tests. */
export interface PortListOptions {
  readonly root?: string;
}

/**
 * The serial ports of this machine, from the kernel's own files. Linux only; ports that exist only in its tables, with
 * no hardware behind, are left out.
 */
export function listSerialPorts({ root = "/" }: PortListOptions = {}): PortList {
  const at = (...parts: string[]) => join(root, ...parts);
  const names = namesIn(at("sys/class/tty"));
  if (names === null) {
    return {
      ports: [],
      notes: [
        "This system has no /sys/class/tty: its serial ports cannot be listed. Give the port's name to gauge probe.",
      ],
    };
  }
  const lasting = lastingNames(at("dev/serial/by-id"));
  const locks = holders(root);
  const ports = names
    .filter((name) => isReal(at("sys/class/tty", name)))
    .sort((a, b) => a.localeCompare(b, "en", { numeric: true }))
    .map((name) => portFacts(root, name, lasting.get(name) ?? null, locks));
  const notes = [
    ...(ports.length > 0 && lasting.size === 0
      ? [
          "There is no /dev/serial/by-id: no port has a lasting name, and which is which may change at the next start.",
        ]
      : []),
    ...(locks === null ? ["Which ports are in use cannot be told: /proc/locks cannot be read."] : []),
  ];
  return { ports, notes };
}

/**
 * A port that the system does not list, such as a pseudo-terminal, by its device file.
 * @param named another name it has, shown as the lasting one
 */
export function unlistedPort(path: string, named: string, { root = "/" }: PortListOptions = {}): PortFacts {
  const lasting = named === path ? null : named;
  const unknown = { driver: null, maker: null, product: null, serial: null };
  return { path, lasting, ...unknown, ...accessTo(root, join(root, path), holders(root)) };
}

function portFacts(
  root: string,
  name: string,
  lasting: string | null,
  locks: ReadonlyMap<string, string> | null,
): PortFacts {
  const device = join(root, "sys/class/tty", name, "device");
  const usb = usbAbove(device);
  return {
    path: `/dev/${name}`,
    lasting,
    driver: linkName(join(device, "driver")),
    maker: usb && text(join(usb, "manufacturer")),
    product: usb && text(join(usb, "product")),
    serial: usb && text(join(usb, "serial")),
    ...accessTo(root, join(root, "dev", name), locks),
  };
}

function accessTo(
  root: string,
  path: string,
  locks: ReadonlyMap<string, string> | null,
): Pick<PortFacts, "mayOpen" | "group" | "user"> {
  const info = statSync(path, { throwIfNoEntry: false });
  const holder = info ? locks?.get(`${lockDevice(info.dev)}:${info.ino}`) : undefined;
  return {
    mayOpen: mayOpen(path),
    group: info ? groupName(root, info.gid) : null,
    user: holder === undefined ? null : programName(root, holder),
  };
}

/** The kernel makes entries for ports a machine might have; those without hardware say type 0 or have no device. */
function isReal(folder: string): boolean {
  if (linkName(join(folder, "device/driver")) === null) return false;
  return text(join(folder, "type")) !== "0";
}

/** The USB device whose interface this port is. */
function usbAbove(device: string): string | null {
  try {
    let folder = realpathSync(device);
    for (let level = 0; level < 4; level++) {
      if (text(join(folder, "idVendor")) !== null) return folder;
      folder = join(folder, "..");
    }
  } catch {
    // Not a port of an adapter.
  }
  return null;
}

function lastingNames(folder: string): ReadonlyMap<string, string> {
  const names = namesIn(folder) ?? [];
  return new Map(
    names.flatMap((name) => {
      const target = linkName(join(folder, name));
      return target === null ? [] : [[target, `/dev/serial/by-id/${name}`] as const];
    }),
  );
}

/** Process by "major:minor:inode" of the file it has locked, as serial programs do (flock(2)); null: not to be read. */
function holders(root: string): ReadonlyMap<string, string> | null {
  const locks = text(join(root, "proc/locks"));
  if (locks === null) return null;
  const found = locks.matchAll(/FLOCK\s+ADVISORY\s+\w+\s+(\d+)\s+([0-9a-f]+:[0-9a-f]+:\d+)/g);
  return new Map([...found].map(([, pid = "", file = ""]) => [file, pid]));
}

/** A device number as /proc/locks writes it. */
function lockDevice(dev: number): string {
  const major = Math.floor(dev / 256) & 0xfff;
  const minor = (dev & 0xff) + (Math.floor(dev / 2 ** 20) << 8);
  return `${major.toString(16).padStart(2, "0")}:${minor.toString(16).padStart(2, "0")}`;
}

function programName(root: string, pid: string): string {
  const name = text(join(root, "proc", pid, "comm"));
  return name === null ? "another program" : `${name} (process ${pid})`;
}

function groupName(root: string, gid: number): string | null {
  const groups = text(join(root, "etc/group")) ?? "";
  const line = groups.split("\n").find((entry) => entry.split(":")[2] === String(gid));
  return line?.split(":")[0] ?? null;
}

function mayOpen(path: string): boolean {
  try {
    accessSync(path, constants.R_OK | constants.W_OK);
    return true;
  } catch {
    return false;
  }
}

function linkName(path: string): string | null {
  try {
    return basename(readlinkSync(path));
  } catch {
    return null;
  }
}

function namesIn(folder: string): string[] | null {
  try {
    return readdirSync(folder);
  } catch {
    return null;
  }
}

function text(path: string): string | null {
  try {
    return readFileSync(path, "utf8").trim();
  } catch {
    return null;
  }
}
