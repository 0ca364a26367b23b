/**
 * Tones of charts, drawn for white paper, and what each becomes on a dark screen: as far from its ground, of the same hue. Every
 * tone of the charts has its line here.
 */
const TONES: readonly (readonly [light: string, dark: string])[] = [
  ["#1c2b33", "#dfe6e3"],
  ["#c9cfcc", "#48545a"],
  ["#fff", "#12191d"],
  ["#0f5f5c", "#6cc5bf"],
  ["#b4581a", "#e6a06a"],
  ["#6a3d7c", "#c9a2d8"],
  ["#8a8320", "#cfc86a"],
  ["#35699c", "#8fbbe6"],
  ["#4b4b4b", "#b9b9b9"],
  ["#2d706b", "#2f7f79"],
  ["#f0d8c2", "#c98f5f"],
  ["#9f8aa8", "#8d74a0"],
  ["#e9e7cd", "#a8a262"],
  ["#5d86ad", "#4f7ba6"],
  ["#c4c4c4", "#7b8488"],
  ["#8c2f1b", "#f08a70"],
];

/** @example toneName("#1c2b33") // "--t1c2b33" */
function toneName(light: string): string {
  return `--t${light.slice(1)}`;
}

/** A drawing whose tones follow the page: those of its attributes become variables. */
export function withPageTones(svg: string): string {
  return svg.replace(/"(#[0-9a-f]{3,6})"/gi, (whole, tone: string) => {
    const known = TONES.some(([light]) => light === tone.toLowerCase());
    return known ? `"var(${toneName(tone.toLowerCase())})"` : whole;
  });
}

/** @returns declarations of the variables, for white paper or a dark screen */
export function toneDeclarations(on: "light" | "dark"): string {
  return TONES.map(([light, dark]) => `${toneName(light)}:${on === "light" ? light : dark}`).join(";");
}
