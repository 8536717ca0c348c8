import type { ComponentChildren } from 'preact';
import { useId } from 'preact/hooks';

export interface Column<Row> {
  readonly head: ComponentChildren;
  /** Numbers stand at the right, under each other. */
  readonly numeric?: true;
  /** The cell that names the row. */
  readonly rowHead?: true;
  readonly cell: (row: Row) => ComponentChildren;
}

interface TableFacts<Row> {
  /** What it shows; read out first, and printed above it. A text also tells its region from others. */
  readonly caption: ComponentChildren;
  readonly columns: readonly Column<Row>[];
  readonly rows: readonly Row[];
  /** Tells rows apart, and stands in their `id` after the table's name. */
  readonly keyOf: (row: Row) => string;
  /** What to say instead of no rows. */
  readonly empty: string;
}

/** A table that scrolls by itself where the window is too narrow for it. Captions of a page differ. */
export function Table<Row>({ caption, columns, rows, keyOf, empty }: TableFacts<Row>) {
  const captionId = useId();
  if (rows.length === 0) return <p class="empty">{empty}</p>;
  return (
    <div class="table" role="region" aria-labelledby={captionId} tabIndex={0}>
      <table>
        <caption id={captionId}>{caption}</caption>
        <thead>
          <tr>
            {columns.map(({ head, numeric }, index) => (
              <th key={index} scope="col" class={numeric && 'number'}>
                {head}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {rows.map((row) => (
            <tr key={keyOf(row)}>
              {columns.map(({ cell, numeric, rowHead }, index) =>
                rowHead ? (
                  <th key={index} scope="row" class={numeric && 'number'}>
                    {cell(row)}
                  </th>
                ) : (
                  <td key={index} class={numeric && 'number'}>
                    {cell(row)}
                  </td>
                ),
              )}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
