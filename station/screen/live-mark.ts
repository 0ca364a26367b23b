/** A row that is painted ten times a second without Ink consists of this. Private use: no label has it. */
export const LIVE_MARK = "\ue000";
