import type { StudyChart, StudyTable } from "../quality/study-report.ts";

/** What a report says, in the order in which it is read; made into a page, and into paper. */
export interface PageDocument {
  readonly title: string;
  /** What it is of, and how it came about: name and value. */
  readonly about: readonly (readonly [name: string, value: string])[];
  /** How the days were, in one sentence. */
  readonly sentence: string;
  readonly headline: readonly HeadlineFigure[];
  readonly sections: readonly DocumentSection[];
}

export interface HeadlineFigure {
  readonly name: string;
  /** Short, to be read from afar: "97.3 %". */
  readonly value: string;
  /** What it is made of: "146 of 150 units". */
  readonly made: string;
  /** Where it lies, and by which method; null for a figure without an interval. */
  readonly interval: string | null;
  /** Somebody must act. */
  readonly isAlarm: boolean;
}

export interface DocumentSection {
  readonly heading: string;
  readonly blocks: readonly DocumentBlock[];
}

export type DocumentBlock =
  | { readonly kind: "text"; readonly text: string }
  | { readonly kind: "list"; readonly items: readonly string[] }
  | { readonly kind: "chart"; readonly chart: StudyChart }
  | { readonly kind: "table"; readonly table: DocumentTable };

export interface DocumentTable extends StudyTable {
  /** File that each row's first cell leads to, relative to the records folder. */
  readonly files?: readonly string[];
  /** The numbers of a chart, for those who ask for them: closed until somebody opens it, and not on paper where it is long. */
  readonly isFolded?: true;
}
