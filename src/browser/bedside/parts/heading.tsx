import type { ComponentChildren, JSX } from 'preact';
import { useEffect, useRef } from 'preact/hooks';

/** The heading of a view. It takes the focus when the view comes, so that it is read out first. */
export function Heading({ children }: { children: ComponentChildren }): JSX.Element {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => {
    heading.current?.focus();
  }, []);
  return (
    <h1 ref={heading} tabIndex={-1}>
      {children}
    </h1>
  );
}
