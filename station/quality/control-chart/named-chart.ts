import type { StudyChart } from "../study-report.ts";

/**
 * A chart with its group's name before its title, whose letters stay as they are: an X-bar and R chart is no x-bar and r chart.
 * @example namedChart("cavity T3:", { ...chart, title: "Individuals chart" }).title // "cavity T3: individuals chart"
 */
export function namedChart(name: string, chart: StudyChart): StudyChart {
  const title = chart.title.replace(/^[A-Z](?=[a-z])/, (letter) => letter.toLowerCase());
  return { ...chart, title: `${name} ${title}` };
}
