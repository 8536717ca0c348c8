interface Side {
  readonly href: string;
  readonly label: string;
  readonly isHere: boolean;
}

/** Links to the sides of one page, the one that is open marked. */
export function Sides({ label, sides }: { label: string; sides: readonly Side[] }) {
  return (
    <nav class="sides" aria-label={label}>
      <ul>
        {sides.map(({ href, label: words, isHere }) => (
          <li key={href}>
            <a href={href} aria-current={isHere ? 'page' : undefined}>
              {words}
            </a>
          </li>
        ))}
      </ul>
    </nav>
  );
}
