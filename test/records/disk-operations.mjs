// For a child process that is to be killed, or to fail, at its disk: has each of its file operations announced before it is done.

import callbacks from "node:fs";
import fs from "node:fs/promises";
import { syncBuiltinESMExports } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";
import Database from "libsql";

/**
 * Before the program under test is loaded. What `step` throws is the operation's failure.
 * @param step given the operation's name and path
 * @param isWhole whether operations that don't wait, renaming, and questions to SQLite are announced, too
 */
export async function announceOperations(step, isWhole = false) {
  for (const name of ["mkdir", "link", "unlink", "readdir", ...(isWhole ? ["rename"] : [])]) {
    const real = fs[name];
    fs[name] = async (...args) => {
      step(name, args[name === "link" ? 1 : 0]);
      return real(...args);
    };
  }
  const readFile = callbacks.readFile;
  callbacks.readFile = (path, ...rest) => {
    try {
      step("readFile", path);
    } catch (error) {
      return rest.at(-1)(error);
    }
    return readFile(path, ...rest);
  };
  await announceHandles(step);
  if (isWhole) {
    for (const name of ["rmSync", "writeFileSync"]) announce(callbacks, name, (path) => step(name, path));
    announceDatabases(step);
  }
  syncBuiltinESMExports();
}

async function announceHandles(step) {
  const path = join(tmpdir(), `.drumtight-${process.pid}`);
  const probe = await fs.open(path, "w");
  const handles = Object.getPrototypeOf(probe);
  await probe.close();
  await fs.unlink(path);
  const paths = new WeakMap();
  const open = fs.open;
  fs.open = async (path, ...rest) => {
    step("open", path);
    const handle = await open(path, ...rest);
    paths.set(handle, path);
    return handle;
  };
  for (const name of ["writeFile", "sync"]) {
    const real = handles[name];
    handles[name] = async function (...args) {
      step(name, paths.get(this));
      return real.apply(this, args);
    };
  }
}

function announceDatabases(step) {
  const memory = new Database(":memory:");
  const statements = Object.getPrototypeOf(memory.prepare("SELECT 1"));
  memory.close();
  for (const name of ["exec", "prepare", "close"])
    announce(Database.prototype, name, () => step(name, "SQLite"));
  for (const name of ["run", "get", "all"]) announce(statements, name, () => step(name, "SQLite"));
}

function announce(object, name, before) {
  const real = object[name];
  object[name] = function (...args) {
    before(...args);
    return real.apply(this, args);
  };
}
