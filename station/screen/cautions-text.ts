/** What everybody must have read before the first unit. */
export const CAUTIONS: readonly string[] = [
  "A body under test is evacuated or pressurised and can burst or collapse: guard closed, eye protection on.",
  "The fixture moves and clamps by itself: keep hands out from the moment the start is pressed.",
  "The unit's mains motor runs during the airflow step: no open covers, no damp plugs, no loose parts at the inlet.",
  "Before anybody opens a unit: unplug it and isolate it, by licensed practice.",
  "Local safety rules and work by licensed people come before this screen.",
  "This software is not the safety function. Guard, relief valve, emergency stop and motor isolation are hard-wired.",
];

export const SIMULATED_CAUTION = "This station is simulated: nothing moves, no record is of a real unit.";
