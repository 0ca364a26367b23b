/**
 * Values by the name of their group, groups in the order of their first value.
 * @example groupedByName(["a", "b", "a"], [1, 2, 3]) // Map { "a" => [1, 3], "b" => [2] }
 */
export function groupedByName(names: readonly string[], values: readonly number[]): Map<string, number[]> {
  const groups = new Map<string, number[]>();
  for (const [i, value] of values.entries()) {
    const name = names[i] ?? "";
    const group = groups.get(name);
    if (group) group.push(value);
    else groups.set(name, [value]);
  }
  return groups;
}
