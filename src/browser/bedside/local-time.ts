/** A time as this device's clock and zone show it: RFC 3339 with the offset, to the second. */
export function localTime(at: Date): string {
  const offsetMinutes = -at.getTimezoneOffset();
  const local = new Date(at.getTime() + offsetMinutes * 60_000).toISOString().slice(0, 19);
  const sign = offsetMinutes < 0 ? '-' : '+';
  const [hours, minutes] = [Math.trunc(Math.abs(offsetMinutes) / 60), Math.abs(offsetMinutes) % 60];
  return `${local}${sign}${twoDigits(hours)}:${twoDigits(minutes)}`;
}

function twoDigits(number: number): string {
  return String(number).padStart(2, '0');
}
