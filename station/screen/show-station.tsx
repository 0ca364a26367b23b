export async function showStation(_options: unknown): Promise<0 | 1> {
  return 1;
}
