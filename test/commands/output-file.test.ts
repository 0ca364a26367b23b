import { mkdirSync, readdirSync, readFileSync, statSync, symlinkSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterEach, describe, expect, it, onTestFinished, vi } from "vitest";
import { type OutputPlace, requireOutputPlace, writeOutput } from "../../station/commands/output-file.ts";
import { readOnlyView, scratchDisk, scratchFolder } from "../records/scratch-folder.ts";

afterEach(() => vi.restoreAllMocks());

/** @returns the one sentence of the refusal */
async function refusal(place: OutputPlace): Promise<string> {
  const error: unknown = await writeOutput("new", place).catch((thrown) => thrown);
  expect(error).toMatchObject({ name: "UsageError" });
  return (error as Error).message;
}

function heard(): () => string {
  const spy = vi.spyOn(process.stdout, "write").mockImplementation(() => true);
  return () => spy.mock.calls.map(([text]) => String(text)).join("");
}

function onTerminal(isTTY: boolean): void {
  const before = process.stdout.isTTY;
  process.stdout.isTTY = isTTY;
  onTestFinished(() => {
    process.stdout.isTTY = before;
  });
}

describe("an answer that goes to a file", () => {
  it("is there as it was given, texts in UTF-8 and bytes as bytes, and nothing else is left in the folder", async () => {
    const folder = scratchFolder();
    await writeOutput("Prüfung\r\n", { out: join(folder, "day.csv"), what: "table" });
    await writeOutput(Uint8Array.of(0x50, 0x4b, 0, 255), { out: join(folder, "day.xlsx"), what: "workbook" });
    expect(readFileSync(join(folder, "day.csv"), "utf8")).toBe("Prüfung\r\n");
    expect([...readFileSync(join(folder, "day.xlsx"))]).toEqual([0x50, 0x4b, 0, 255]);
    expect(readdirSync(folder).sort()).toEqual(["day.csv", "day.xlsx"]);
  });

  it("does not take the place of another file, and says what would", async () => {
    const out = join(scratchFolder(), "day.csv");
    writeFileSync(out, "yesterday");
    expect(await refusal({ out, what: "table" })).toBe(
      `${out} is there already and was left as it is: give --out another name, or add --force to replace it.`,
    );
    expect(readFileSync(out, "utf8")).toBe("yesterday");
    await writeOutput("today", { out, force: true, what: "table" });
    expect(readFileSync(out, "utf8")).toBe("today");
  });

  it("is refused before the work, by the same words", async () => {
    const out = join(scratchFolder(), "day.csv");
    writeFileSync(out, "yesterday");
    await expect(requireOutputPlace({ out, what: "table", option: "--pdf" })).rejects.toThrow(
      "give --pdf another name",
    );
  });

  it("leaves one whole file where two are written at once, and tells the other", async () => {
    const folder = scratchFolder();
    const out = join(folder, "day.csv");
    const texts = ["a", "b", "c", "d"].map((letter) => letter.repeat(100_000));
    const ends = await Promise.allSettled(texts.map((text) => writeOutput(text, { out, what: "table" })));
    const written = texts.filter((_, k) => ends[k]?.status === "fulfilled");
    expect(written).toHaveLength(1);
    expect(readFileSync(out, "utf8")).toBe(written[0]);
    for (const end of ends) if (end.status === "rejected") expect(end.reason.message).toContain("--force");
    expect(readdirSync(folder)).toEqual(["day.csv"]);
  });

  it("goes through a link to the file that it names, which stays a link", async () => {
    const folder = scratchFolder();
    const [real, link] = [join(folder, "real.csv"), join(folder, "link.csv")];
    writeFileSync(real, "old");
    symlinkSync("real.csv", link);
    await writeOutput("new", { out: link, force: true, what: "table" });
    expect(readFileSync(real, "utf8")).toBe("new");
    expect(readdirSync(folder).sort()).toEqual(["link.csv", "real.csv"]);
  });

  it.each([
    ["a folder", (folder: string) => folder, "that is a folder; give the name of a file in it"],
    [
      "a folder that is not there",
      (folder: string) => join(folder, "no", "a.csv"),
      "its folder is not there",
    ],
    ["a name that ends as a folder's", (folder: string) => `${join(folder, "new")}/`, "that is a folder"],
    [
      "a file as a folder",
      (folder: string) => join(made(folder, "f"), "a.csv"),
      "a part of that path is a file",
    ],
    ["an endless name", (folder: string) => join(folder, "n".repeat(300)), "the name is too long"],
    ["a name with a zero byte", (folder: string) => join(folder, "a\0b"), "give another file"],
    ["a link to nothing", (folder: string) => dangling(folder), "is a link to a file that is not there"],
    ["no name", () => " ", "--out needs the name of a file."],
  ])("is refused in one sentence where it is to go to %s", async (_, path, words) => {
    const folder = scratchFolder();
    const said = await refusal({ out: path(folder), what: "table" });
    expect(said).toContain(words);
    expect(said).not.toMatch(/\n|undefined|\[object/);
  });

  it("replaces no device, not even when forced", async () => {
    expect(await refusal({ out: "/dev/null", force: true, what: "table" })).toContain("/dev/null is no file");
    expect(statSync("/dev/null").isCharacterDevice()).toBe(true);
  });

  it("never goes among the records, by whatever way", async () => {
    const folder = scratchFolder();
    const records = join(folder, "records");
    mkdirSync(join(records, "2026"), { recursive: true });
    symlinkSync(records, join(folder, "other"));
    const traveller = made(join(records, "2026"), "unit.json");
    symlinkSync(traveller, join(folder, "link.json"));
    const link = join(folder, "link.json");
    for (const out of [traveller, link, join(folder, "other", "day.csv"), `${folder}/x/../records/day.csv`]) {
      mkdirSync(join(folder, "x"), { recursive: true });
      expect(await refusal({ out, force: true, what: "table", records })).toContain(
        "nothing but records may be written",
      );
    }
    expect(readFileSync(traveller, "utf8")).toBe("kept");
    await writeOutput("new", { out: join(folder, "records.csv"), what: "table", records });
    expect(readdirSync(folder)).toContain("records.csv");
  });

  it("leaves what was there, and no rest, when the disk is full", async () => {
    const disk = scratchDisk(64);
    const out = join(disk, "day.csv");
    writeFileSync(out, "yesterday");
    const tooMuch = "x".repeat(200_000);
    await expect(writeOutput(tooMuch, { out, force: true, what: "table" })).rejects.toThrow(
      "the disk is full",
    );
    await expect(writeOutput(tooMuch, { out: join(disk, "new.csv"), what: "table" })).rejects.toThrow(
      "the disk is full",
    );
    expect(readdirSync(disk)).toEqual(["day.csv"]);
    expect(readFileSync(out, "utf8")).toBe("yesterday");
  });

  it("says so where nothing can be written", async () => {
    const view = readOnlyView(scratchFolder());
    expect(await refusal({ out: join(view, "day.csv"), what: "table" })).toContain(
      "nothing can be written there",
    );
  });
});

describe("an answer without a file", () => {
  it("goes to standard output, as does one to -", async () => {
    const said = heard();
    await writeOutput("one\n", { out: undefined, what: "table" });
    await writeOutput("two\n", { out: "-", what: "table" });
    expect(said()).toBe("one\ntwo\n");
  });

  it("has nothing to force", async () => {
    expect(await refusal({ out: undefined, force: true, what: "table" })).toContain("--force is for a file");
  });

  it("is not shown on a terminal where it is no text, but goes to whatever is not one", async () => {
    const said = heard();
    onTerminal(true);
    expect(await refusal({ out: "-", what: "workbook", isBinary: true })).toBe(
      "A workbook can't be shown on a terminal: name a file for it by --out FILE.",
    );
    onTerminal(false);
    await writeOutput("PK", { out: undefined, what: "workbook", isBinary: true });
    expect(said()).toBe("PK");
  });
});

function made(folder: string, name: string): string {
  const path = join(folder, name);
  writeFileSync(path, "kept");
  return path;
}

function dangling(folder: string): string {
  symlinkSync("gone.csv", join(folder, "link.csv"));
  return join(folder, "link.csv");
}
