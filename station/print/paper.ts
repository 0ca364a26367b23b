import { createRequire } from "node:module";
import { dirname, join } from "node:path";
import PDFDocument from "pdfkit";
import { escaped } from "../../limits/escaped-text.ts";

const POINTS_PER_MM = 72 / 25.4;
/** Line to line, in sizes of the font. */
const LEADING = 1.2;
/** From a line's top to what its letters stand on, in sizes of the font. */
const ASCENT = 0.93;

export type Weight = "regular" | "strong";

export interface TextStyle {
  /** Height of the font in millimetres. */
  readonly size: number;
  readonly weight?: Weight;
  readonly colour?: Tone;
  readonly align?: "left" | "right" | "centre";
}

/** Black, white, and greys that a black and white printer can still tell from both. */
export type Tone = "black" | "white" | "grey" | "pale" | "faint";
const TONES = {
  black: "#000000",
  white: "#ffffff",
  grey: "#555555",
  pale: "#d0d0d0",
  faint: "#e2e2e2",
} as const;

export interface Area {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

export type Point = readonly [x: number, y: number];

/** What is known of a document besides what stands on it. */
export interface PaperFacts {
  readonly width_mm: number;
  readonly height_mm: number;
  readonly title: string;
  /** Date the PDF says it was made at; the same content and date give the same bytes. */
  readonly made_at: string;
}

/**
 * One sheet of paper that becomes a PDF. Everything is in millimetres from its upper left corner. Texts are whatever was scanned and
 * typed: what is not to be shown, or has no letter in the font, stands there as its number.
 */
export class Paper {
  readonly width: number;
  readonly height: number;
  readonly #document: PDFKit.PDFDocument;
  readonly #chunks: Buffer[] = [];
  readonly #done: Promise<void>;
  /** Of letters of size 1. */
  readonly #advances = { regular: new Map<string, number>(), strong: new Map<string, number>() };

  constructor({ width_mm, height_mm, title, made_at }: PaperFacts) {
    this.width = width_mm;
    this.height = height_mm;
    const date = new Date(made_at);
    this.#document = new PDFDocument({
      size: [width_mm * POINTS_PER_MM, height_mm * POINTS_PER_MM],
      margin: 0,
      info: { Title: escaped(title), CreationDate: date, ModDate: date },
      lang: "en",
      displayTitle: true,
    });
    const folder = join(
      dirname(createRequire(import.meta.url).resolve("pdfmake/package.json")),
      "fonts/Roboto",
    );
    this.#document.registerFont("regular", join(folder, "Roboto-Regular.ttf"));
    this.#document.registerFont("strong", join(folder, "Roboto-Medium.ttf"));
    this.#document.on("data", (chunk: Buffer) => this.#chunks.push(chunk));
    this.#done = new Promise((resolve, reject) => {
      this.#document.on("end", resolve);
      this.#document.on("error", reject);
    });
  }

  async pdf(): Promise<Buffer> {
    this.#document.end();
    await this.#done;
    return Buffer.concat(this.#chunks);
  }

  /** @returns the width of a text in one line */
  widthOf(text: string, { size, weight = "regular" }: TextStyle): number {
    return this.#widthOf(this.#shown(text), size, weight);
  }

  /** Words in lines that are no wider than this; a word that is gets broken. */
  wrap(text: string, width: number, { size, weight = "regular" }: TextStyle): string[] {
    const room = width / size + 1e-9;
    const lines: string[] = [];
    let line = "";
    let taken = 0;
    const end = () => {
      if (line !== "") lines.push(line.trimEnd());
      line = "";
      taken = 0;
    };
    for (const word of this.#shown(text).split(/(?<= )/u)) {
      // A space at a line's end takes no room.
      if (taken + this.#widthOf(word.trimEnd(), 1, weight) > room) end();
      for (const letter of word) {
        const advance = this.#advance(letter, weight);
        if (letter !== " " && taken + advance > room) end();
        line += letter;
        taken += advance;
      }
    }
    end();
    return lines.length === 0 ? [""] : lines;
  }

  /**
   * Writes lines one below the other, as `wrap` gives them.
   * @returns the height they take
   */
  lines(lines: readonly string[], x: number, y: number, width: number, style: TextStyle): number {
    const { size, weight = "regular", colour = "black", align = "left" } = style;
    this.#document.fillColor(TONES[colour]);
    for (const [i, line] of lines.entries()) {
      if (line === "") continue;
      const spare = width - this.#widthOf(line, size, weight);
      this.#document.font(weight).fontSize(size * POINTS_PER_MM);
      const left = x + (align === "left" ? 0 : align === "right" ? spare : spare / 2);
      this.#document.text(
        line,
        left * POINTS_PER_MM,
        (y + i * size * LEADING + size * (ASCENT + (LEADING - 1) / 2)) * POINTS_PER_MM,
        { lineBreak: false, baseline: "alphabetic" },
      );
    }
    return heightOf(lines.length, style);
  }

  /** Writes a text in one line, smaller where it would be too wide. @returns the size it got */
  fitted(text: string, x: number, y: number, width: number, style: TextStyle): number {
    const natural = this.widthOf(text, style);
    const size = natural > width ? (style.size * width) / natural : style.size;
    this.lines([this.#shown(text)], x, y + (style.size - size) / 2, width, { ...style, size });
    return size;
  }

  fill({ x, y, width, height }: Area, tone: Tone): void {
    this.#document
      .rect(x * POINTS_PER_MM, y * POINTS_PER_MM, width * POINTS_PER_MM, height * POINTS_PER_MM)
      .fill(TONES[tone]);
  }

  /** Draws a frame inside an area. */
  frame({ x, y, width, height }: Area, line: number, tone: Tone = "black"): void {
    this.#document
      .lineWidth(line * POINTS_PER_MM)
      .rect(
        (x + line / 2) * POINTS_PER_MM,
        (y + line / 2) * POINTS_PER_MM,
        (width - line) * POINTS_PER_MM,
        (height - line) * POINTS_PER_MM,
      )
      .stroke(TONES[tone]);
  }

  line(points: readonly Point[], width: number, tone: Tone, dash?: number): void {
    const [first, ...others] = points;
    if (!first) return;
    this.#document
      .save()
      .lineWidth(width * POINTS_PER_MM)
      .lineJoin("round");
    if (dash !== undefined) this.#document.dash(dash * POINTS_PER_MM, {});
    this.#document.moveTo(first[0] * POINTS_PER_MM, first[1] * POINTS_PER_MM);
    for (const [x, y] of others) this.#document.lineTo(x * POINTS_PER_MM, y * POINTS_PER_MM);
    this.#document.stroke(TONES[tone]).restore();
  }

  /** Dark parts of a code, filled together, so that no hairline lies between them. */
  rectangles(areas: readonly Area[]): void {
    for (const { x, y, width, height } of areas) {
      this.#document.rect(
        x * POINTS_PER_MM,
        y * POINTS_PER_MM,
        width * POINTS_PER_MM,
        height * POINTS_PER_MM,
      );
    }
    if (areas.length > 0) this.#document.fill(TONES.black);
  }

  /** Writes across the whole sheet, pale, from corner to corner: under everything that is drawn afterwards. */
  across(text: string): void {
    const size = 10;
    const diagonal = Math.hypot(this.width, this.height);
    const fitted = (size * diagonal * 0.72) / this.widthOf(text, { size, weight: "strong" });
    const angle = (Math.atan2(this.height, this.width) * 180) / Math.PI;
    const [x, y] = [this.width / 2, this.height / 2];
    this.#document.save().rotate(-angle, { origin: [x * POINTS_PER_MM, y * POINTS_PER_MM] });
    this.lines([this.#shown(text)], 0, y - (fitted * LEADING) / 2, this.width, {
      size: fitted,
      weight: "strong",
      colour: "faint",
      align: "centre",
    });
    this.#document.restore();
  }

  /** By single letters, each measured once; what the font then draws closer together is narrower. */
  #widthOf(shown: string, size: number, weight: Weight): number {
    let width = 0;
    for (const letter of shown) width += this.#advance(letter, weight);
    return width * size;
  }

  #advance(letter: string, weight: Weight): number {
    const known = this.#advances[weight].get(letter);
    if (known !== undefined) return known;
    const advance = this.#document.font(weight).fontSize(1).widthOfString(letter);
    this.#advances[weight].set(letter, advance);
    return advance;
  }

  /** Nothing of a text is left out: what has no letter in the font stands there as its number. */
  #shown(text: string): string {
    const safe = escaped(text);
    if (/^[ -~]*$/.test(safe)) return safe;
    const font = fontOf(this.#document.font("regular"));
    return [...safe]
      .map((character) => {
        const code = character.codePointAt(0) ?? 0;
        return font.hasGlyphForCodePoint(code) ? character : `\\u{${code.toString(16)}}`;
      })
      .join("");
  }
}

export function heightOf(lines: number, { size }: Pick<TextStyle, "size">): number {
  return lines * size * LEADING;
}

interface GlyphSource {
  hasGlyphForCodePoint(code: number): boolean;
}

/** pdfkit tells nobody which letters a font lacks, and prints an empty box for them. */
function fontOf(document: PDFKit.PDFDocument): GlyphSource {
  const { _font } = document as unknown as { readonly _font: { readonly font: GlyphSource } };
  return _font.font;
}
