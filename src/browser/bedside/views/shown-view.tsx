import type { JSX } from 'preact';
import type { View } from '../session/page-state.js';
import { CountView } from './count-view.js';
import { DecideView } from './decide-view.js';
import { ElsewhereView, LockedView, OpeningView, StillYouView } from './gate-views.js';
import { MenuView } from './menu-view.js';
import { OutboxView } from './outbox-view.js';
import { PracticeView } from './practice-view.js';
import { ReviewView } from './review-view.js';
import { SentView } from './sent-view.js';
import { SignsView } from './signs-view.js';
import { StepView } from './step-view.js';
import { WhoView } from './who-view.js';

export function ShownView(props: { view: View; onTakeOver: () => void }): JSX.Element {
  const { view, onTakeOver } = props;
  switch (view.name) {
    case 'opening':
      return <OpeningView />;
    case 'locked':
      return <LockedView />;
    case 'elsewhere':
      return <ElsewhereView onTakeOver={onTakeOver} />;
    case 'still-you':
      return <StillYouView />;
    case 'who':
      return <WhoView />;
    case 'signs':
      return <SignsView />;
    case 'step':
      return <StepView key={view.entry} entryId={view.entry} />;
    case 'count':
      return <CountView key={view.entry} entryId={view.entry} />;
    case 'review':
      return <ReviewView />;
    case 'sent':
      return <SentView key={view.setId} setId={view.setId} />;
    case 'decide':
      return <DecideView setId={view.setId} index={view.index} />;
    case 'practice':
      return <PracticeView />;
    case 'outbox':
      return <OutboxView />;
    case 'menu':
      return <MenuView />;
  }
}
