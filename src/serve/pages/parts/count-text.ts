const format = new Intl.NumberFormat('en-GB');

/** `12,000`. */
export function writeNumber(count: number): string {
  return format.format(count);
}

/** `1 reading`, `1,200 readings`. */
export function countText(count: number, one: string, many = `${one}s`): string {
  return `${writeNumber(count)} ${count === 1 ? one : many}`;
}
