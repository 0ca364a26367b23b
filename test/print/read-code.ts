import { spawnSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { prepareZXingModule, readBarcodes } from "zxing-wasm/reader";
import type { CodeSymbol } from "../../station/print/symbol.ts";

let isReady = false;

/** What a decoder that is none of ours reads: text, AIM symbology identifier and where it is, in dots. */
export interface ReadCode {
  readonly text: string;
  readonly identifier: string;
  readonly bytes: Uint8Array;
}

/**
 * Reads every code on the first page of a PDF as it comes out of a printer of so many dots an inch, black and white.
 * @param top_mm looks no further down the page than this
 */
export async function readCodes(pdf: Buffer, dpi = 300, top_mm = 1000): Promise<ReadCode[]> {
  const top = ["-x", "0", "-y", "0", "-W", "10000", "-H", String(Math.round((top_mm / 25.4) * dpi))];
  const { status, stdout, stderr } = spawnSync("pdftoppm", ["-r", String(dpi), "-mono", ...top, "-"], {
    input: pdf,
    maxBuffer: 64e6,
  });
  if (status !== 0) throw new Error(`pdftoppm (Debian poppler-utils) ended with ${status}: ${stderr}`);
  return decode(bitmap(stdout));
}

/** Reads a symbol drawn without any paper, four dots a module, in its quiet zone. */
export function readSymbol({ width, height, quiet, dark }: CodeSymbol): Promise<ReadCode[]> {
  const scale = 4;
  const tall = height === 1 ? 40 : height;
  const [columns, rows] = [(width + 2 * quiet) * scale, (tall + 2 * quiet) * scale];
  const grey = new Uint8Array(columns * rows).fill(255);
  for (const part of dark) {
    const depth = height === 1 ? tall : part.height;
    for (let y = (part.y + quiet) * scale; y < (part.y + depth + quiet) * scale; y++) {
      const from = y * columns + (part.x + quiet) * scale;
      grey.fill(0, from, from + part.width * scale);
    }
  }
  return decode({ columns, rows, grey });
}

interface Bitmap {
  readonly columns: number;
  readonly rows: number;
  readonly grey: Uint8Array;
}

/** A portable bitmap (PBM, "P4"): one bit a dot, 1 is black, rows filled up to whole bytes. */
function bitmap(pbm: Buffer): Bitmap {
  const head = /^P4\s+(\d+)\s+(\d+)\s/.exec(pbm.toString("latin1", 0, 64));
  if (!head) throw new Error("pdftoppm gave no bitmap");
  const [columns, rows] = [Number(head[1]), Number(head[2])];
  const stride = Math.ceil(columns / 8);
  const grey = new Uint8Array(columns * rows);
  for (let y = 0; y < rows; y++) {
    for (let x = 0; x < columns; x++) {
      const byte = pbm[head[0].length + y * stride + (x >> 3)] ?? 0;
      grey[y * columns + x] = (byte >> (7 - (x & 7))) & 1 ? 0 : 255;
    }
  }
  return { columns, rows, grey };
}

async function decode({ columns: width, rows: height, grey }: Bitmap): Promise<ReadCode[]> {
  if (!isReady) {
    const wasm = createRequire(import.meta.url).resolve("zxing-wasm/reader/zxing_reader.wasm");
    // The library would load its program from a network otherwise.
    await prepareZXingModule({
      overrides: { wasmBinary: readFileSync(wasm).buffer as ArrayBuffer },
      fireImmediately: true,
    });
    isReady = true;
  }
  const data = new Uint8ClampedArray(width * height * 4).fill(255);
  for (const [i, level] of grey.entries()) if (level === 0) data.fill(0, i * 4, i * 4 + 3);
  const found = await readBarcodes(
    { data, width, height, colorSpace: "srgb" } as Parameters<typeof readBarcodes>[0],
    {
      formats: ["DataMatrix", "Code128"],
      textMode: "Plain",
      tryHarder: true,
    },
  );
  return found
    .filter(({ isValid }) => isValid)
    .map(({ text, symbologyIdentifier, bytes }) => ({ text, identifier: symbologyIdentifier, bytes }));
}
