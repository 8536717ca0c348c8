/** Whether a name is that of an IANA time zone that this program knows, such as Europe/Vienna. */
export function isTimeZone(name: string): boolean {
  // Newer versions of Node also take an offset such as +02:00, which knows no summer time.
  if (!/^[A-Za-z]/.test(name)) return false;
  try {
    new Intl.DateTimeFormat('en', { timeZone: name });
    return true;
  } catch {
    return false;
  }
}
