/** Studies that can be planned, and measured at the station piece by piece. */
export const PLANNED_STUDIES = ["repeatability", "type1", "bias", "agreement"] as const;
export type PlannedStudy = (typeof PLANNED_STUDIES)[number];
