/** What the desk's pages do in the browser beyond links and forms. They work without it. */
import { followWork } from './follow-work.js';

followWork();
