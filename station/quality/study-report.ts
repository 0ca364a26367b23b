/** What a study has found, in a form that a terminal, a program and a page can be made of. */
export interface StudyReport {
  /** What kind of study, as a heading: "Gauge repeatability and reproducibility". */
  readonly title: string;
  /** What `answer` answers: "Is the gauge fit to judge?" */
  readonly question: string;
  /** What was studied: "leak rate of TUB-12, 10 parts x 3 appraisers x 3 trials". */
  readonly subject: string;
  /** One sentence in plain words: what follows for whoever asked. */
  readonly conclusion: string;
  readonly answer: StudyAnswer;
  /** What the answer was held against. */
  readonly bands: readonly AcceptanceBand[];
  /** What a reader of the figures must know: values left out, a component set to zero, too little data. */
  readonly notes: readonly string[];
  /** For people. */
  readonly tables: readonly StudyTable[];
  readonly charts: readonly StudyChart[];
  /** For programs, by the standard's own terms; never NaN or infinite. */
  readonly figures: Readonly<Record<string, Figure>>;
  /** The values that were studied. */
  readonly data: StudyTable;
}

/** `none`: no band applies, or there is too little data to say. `no` makes the exit code 1. */
export type StudyAnswer = "yes" | "marginal" | "no" | "none";

/** @example { text: "under 10 % of the tolerance: good; 10 to 30 %: marginal; over: not fit", source: "AIAG MSA, 4th ed." } */
export interface AcceptanceBand {
  readonly text: string;
  readonly source: string;
}

export type Figure =
  | number
  | string
  | boolean
  | null
  | readonly Figure[]
  | { readonly [name: string]: Figure };

export interface StudyTable {
  readonly caption: string;
  /** Text to the left, numbers to the right. */
  readonly columns: readonly { readonly heading: string; readonly kind: "text" | "number" }[];
  /** As they are to be read, rounded and with their unit where the heading has none; "" for no value. */
  readonly rows: readonly (readonly string[])[];
}

/** A table whose rows are made when they are read: of a hundred thousand values only a page needs the texts. */
export function tableOnDemand(
  table: Omit<StudyTable, "rows">,
  rows: () => readonly (readonly string[])[],
): StudyTable {
  let made: readonly (readonly string[])[] | undefined;
  return {
    ...table,
    get rows() {
      made ??= rows();
      return made;
    },
  };
}

export interface StudyChart {
  readonly title: string;
  readonly x: ChartAxis;
  readonly y: ChartAxis;
  readonly series: readonly ChartSeries[];
  /** Straight across the chart. */
  readonly levels?: readonly ChartLevel[];
  /** Ranges of an axis, hatched, behind everything else. */
  readonly areas?: readonly ChartArea[];
  /** Bars of several series stand upon one another, the first at the bottom; beside each other unless stated. */
  readonly stacked?: true;
}

export interface ChartArea {
  readonly label: string;
  /** Along which axis its ends lie. */
  readonly along: "x" | "y";
  readonly from: number;
  readonly to: number;
}

export interface ChartAxis {
  readonly label: string;
  /** Names in place of numbers: a value of k stands for the k-th, from 0. */
  readonly names?: readonly string[];
}

export interface ChartSeries {
  readonly name: string;
  /** Of intervals, a lower end and its upper one take turns, at the same x. */
  readonly draw: "line" | "dots" | "line and dots" | "steps" | "bars" | "intervals";
  /** The series of that name has the same tone and shape, since both are of one thing. */
  readonly like?: string;
  /** A limit or centre that is not the same for all points. */
  readonly means?: ChartLevel["means"];
  /** NaN never; a gap is a series of its own. */
  readonly points: readonly (readonly [x: number, y: number])[];
  /** Indices of points out of the ordinary, drawn in another shape. */
  readonly marked?: readonly number[];
}

export interface ChartLevel {
  readonly label: string;
  /** Along which axis its value lies. */
  readonly along: "x" | "y";
  readonly at: number;
  readonly means: "centre" | "control limit" | "specification limit";
}

/** A study that the data can't give; the message says why and what would do. */
export class NoStudy extends Error {
  constructor(message: string) {
    super(message);
    this.name = "NoStudy";
  }
}
