const MAX_CHARACTERS = 300;

interface Problem {
  readonly detail?: string;
  readonly errors?: readonly { readonly pointer: string; readonly message: string }[];
  readonly issue?: readonly {
    readonly diagnostics?: string;
    readonly details?: { readonly text?: string };
  }[];
}

/** What an error of the gateway says, in a line: a problem document (RFC 9457) or an OperationOutcome. */
export function problemWords(text: string): string {
  return (wordsOf(text) ?? text).replace(/\s+/g, ' ').slice(0, MAX_CHARACTERS);
}

function wordsOf(text: string): string | undefined {
  try {
    const { detail, errors = [], issue = [] } = JSON.parse(text) as Problem;
    const faults = errors.map(({ pointer, message }) => `${pointer} ${message}`);
    const issues = issue.map((one) => one.diagnostics ?? one.details?.text ?? '');
    const words = [detail ?? '', ...faults, ...issues].filter((part) => part !== '');
    return words.length === 0 ? undefined : words.join('; ');
  } catch {
    return undefined;
  }
}
