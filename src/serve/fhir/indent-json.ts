/** A string, an empty list or object, or a character that shapes the text. */
const TOKEN = /"(?:[^"\\]|\\.)*"|\{\}|\[\]|[{}[\],:]/g;

/** JSON text with line breaks and two spaces a level. Works on the text, so that no decimal changes. */
export function indentJson(text: string): string {
  let depth = 0;
  const lineBreak = (): string => `\n${'  '.repeat(depth)}`;
  return text.replace(TOKEN, (token) => {
    switch (token) {
      case '{':
      case '[':
        depth += 1;
        return token + lineBreak();
      case '}':
      case ']':
        depth -= 1;
        return lineBreak() + token;
      case ',':
        return token + lineBreak();
      case ':':
        return ': ';
      default:
        return token;
    }
  });
}
