#include "bareglass/present/page_style.hpp"

namespace bareglass::host::report {

const char* const kReportStyle = R"(
@page { margin: 11mm 12mm; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 16px; max-width: 860px; background: #fff; color: #111;
  font: 14px/1.38 sans-serif; overflow-wrap: anywhere; }
h1 { font-size: 25px; line-height: 1.2; margin: 0; }
h2 { font-size: 16px; margin: 16px 0 5px; border-bottom: 1.5px solid #111; padding-bottom: 2px; }
h3 { font-size: 14px; margin: 9px 0 2px; }
p { margin: 4px 0; }
ul, ol { margin: 4px 0; padding-left: 20px; }
li { margin: 2px 0; }
.patterns { position: absolute; }
.head { display: flex; flex-wrap: wrap; justify-content: space-between; gap: 2px 18px;
  font-size: 12.5px; color: #333; margin-bottom: 8px; }
.head b { color: #111; }
.verdict { border: 2.5px solid #111; padding: 10px 14px; }
.badge { display: inline-block; border: 2.5px solid #111; font-weight: bold; font-size: 15px;
  padding: 1px 9px; margin-bottom: 6px; letter-spacing: .04em; }
.facts { display: grid; grid-template-columns: max-content 1fr; gap: 1px 12px; margin: 7px 0 0; }
.facts dt { font-weight: bold; }
.facts dd { margin: 0; }
.first { display: flex; flex-wrap: wrap; gap: 4px 26px; align-items: flex-start;
  margin-top: 10px; }
figure { margin: 0; }
figcaption { font-size: 12.5px; line-height: 1.3; margin-bottom: 4px; }
figcaption b { display: block; font-size: 13.5px; }
figure svg { display: block; width: 100%; height: auto; }
.tall .pictures { flex: 1 1 250px; max-width: 290px; }
.tall .todo { flex: 2 1 330px; min-width: 0; }
.wide .pictures { flex: 1 1 100%; display: flex; flex-wrap: wrap; gap: 10px 20px; }
.wide .main { flex: 3 1 340px; }
.wide .side { flex: 1 1 180px; max-width: 340px; }
.wide .todo { flex: 1 1 100%; }
.side { margin-top: 8px; }
.pair { display: flex; align-items: flex-end; gap: 16px; margin-top: 12px; break-inside: avoid; }
.pair figure { flex: 1 1 0; min-width: 0; }
.pair b { white-space: nowrap; }
.tall .pair figure { max-width: 110px; }
.wide .pair { flex-direction: column; }
.scale { max-width: 260px; }
.maps { display: flex; gap: 20px; break-inside: avoid; }
.maps figure { flex: 1 1 0; min-width: 0; max-width: 300px; }
.maps svg { max-height: 300px; }
.todo h2 { margin-top: 0; }
@media screen and (max-width: 660px) { .tall .pictures { max-width: none; } }
.timeline { display: block; width: 100%; overflow: visible; }
ol.steps { list-style: none; padding: 0; counter-reset: step; }
ol.steps li { position: relative; padding: 0 0 0 52px; margin: 5px 0; counter-increment: step;
  break-inside: avoid; }
ol.steps li::before { content: counter(step) "."; position: absolute; left: 0; width: 20px;
  text-align: right; font-weight: bold; }
ol.steps li::after { content: ""; position: absolute; left: 28px; top: 2px; width: 14px;
  height: 14px; border: 1.6px solid #111; }
.small { font-size: 88%; color: #222; }
.cautions { border-left: 6px solid #111; padding: 2px 0 2px 12px; margin-top: 10px;
  break-inside: avoid; }
.cautions h2 { border: 0; margin: 0; }
.sign { display: flex; flex-wrap: wrap; gap: 8px 24px; margin-top: 40px; break-inside: avoid; }
.sign span { flex: 1 1 130px; border-top: 1px solid #111; padding-top: 2px; font-size: 12px; }
.columns { columns: 2 300px; column-gap: 26px; }
.columns li, .columns tr, .columns dd { break-inside: avoid; }
.columns h2, .columns h3 { break-after: avoid; }
table { border-collapse: collapse; width: 100%; font-size: 13px; }
td, th { text-align: left; vertical-align: top; padding: 2px 8px 2px 0;
  border-bottom: 1px solid #bbb; }
td.t { white-space: nowrap; text-align: right; font-variant-numeric: tabular-nums; }
.evidence { break-inside: avoid; }
.foot { font-size: 11.5px; color: #333; margin-top: 12px; border-top: 1px solid #111;
  padding-top: 4px; }
@media print {
  body { padding: 0; max-width: none; font-size: 9.2pt; line-height: 1.26; }
  h1 { font-size: 15.5pt; }
  h2 { font-size: 11pt; margin: 8pt 0 3pt; break-after: avoid; }
  h3 { break-after: avoid; font-size: 9.6pt; margin: 5pt 0 1pt; }
  .page2 { break-before: page; font-size: 8.2pt; line-height: 1.2; }
  .page2 h3 { font-size: 8.4pt; }
  .page2 li, .page2 p { margin: 1pt 0; }
  table { font-size: 8pt; }
  figure, .verdict { break-inside: avoid; }
  .tall { flex-wrap: nowrap; }
  .tall .pictures { flex: 0 0 55mm; }
  .tall .todo { flex: 1 1 0; }
  .wide .pictures { flex-wrap: nowrap; }
  .wide .main { flex: 0 0 126mm; }
  .wide .side { flex: 1 1 0; }
  .tall .pair { gap: 8mm; }
  .tall .pair figure { max-width: 17mm; }
  .tall .pair { margin-top: 5pt; }
  .maps svg { max-height: 46mm; }
  .cautions { font-size: 8.4pt; margin-top: 6pt; }
  .cautions li { margin: 1pt 0; }
  .long .pair figure { max-width: 15mm; }
  .long .todo { font-size: 8.4pt; line-height: 1.2; }
  ol.steps li { margin: 2.5pt 0; }
  .sign { margin-top: 24pt; }
}
)";

const char* const kWardStyle = R"(
@page { margin: 14mm; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 18px; max-width: 820px; background: #fff; color: #111;
  font: 19px/1.42 sans-serif; overflow-wrap: anywhere; }
h1 { font-size: 34px; line-height: 1.15; margin: 0 0 4px; }
h2 { font-size: 23px; margin: 20px 0 6px; }
p { margin: 6px 0; }
.patterns { position: absolute; }
.unit { margin: 0 0 14px; }
.both { display: flex; flex-wrap: wrap; gap: 14px 30px; align-items: flex-start; }
.both figure { flex: 1 1 240px; max-width: 300px; margin: 0; }
.both.broad figure { flex: 1 1 100%; max-width: 560px; }
.both > div { flex: 2 1 320px; min-width: 0; }
.both h2 { margin-top: 0; }
figure svg { display: block; width: 100%; height: auto; max-height: 400px; }
figcaption { font-size: 18px; margin-top: 6px; }
figcaption b { display: block; }
ol { padding-left: 32px; margin: 6px 0; }
ol li { margin: 7px 0; padding-left: 4px; break-inside: avoid; }
.rule { border: 3px solid #111; padding: 9px 16px; font-size: 23px; font-weight: bold;
  margin-top: 18px; break-inside: avoid; }
.foot { font-size: 13px; color: #333; margin-top: 18px; }
@media print {
  body { padding: 0; max-width: none; font-size: 12pt; line-height: 1.28; }
  h1 { font-size: 23pt; }
  h2 { font-size: 15.5pt; break-after: avoid; margin-top: 12pt; }
  .both { flex-wrap: nowrap; }
  .both.broad { flex-wrap: wrap; }
  .both figure { flex: 0 0 54mm; }
  figcaption { font-size: 12pt; }
  .rule { font-size: 15.5pt; }
  .foot { font-size: 9pt; }
  figure { break-inside: avoid; }
}
)";

const char* const kFleetStyle = R"(
@page { margin: 12mm; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 16px; max-width: 900px; background: #fff; color: #111;
  font: 14px/1.4 sans-serif; overflow-wrap: anywhere; }
h1 { font-size: 24px; line-height: 1.2; margin: 0 0 6px; }
h2 { font-size: 16px; margin: 20px 0 4px; break-after: avoid; }
p { margin: 4px 0; }
ul { margin: 4px 0; padding-left: 20px; }
.small { font-size: 88%; color: #333; }
table { border-collapse: collapse; font-size: 13px; }
.units { width: 100%; }
td, th { text-align: left; vertical-align: top; padding: 4px 14px 4px 0;
  border-bottom: 1px solid #bbb; }
th { border-bottom: 1.5px solid #111; }
tr { break-inside: avoid; }
/* Short words stay whole; names from outside may be of any length. */
table { overflow-wrap: normal; }
td:first-child, .units td:nth-child(2) { overflow-wrap: anywhere; }
.units td:nth-child(3), .units td:nth-child(7), .shares td:nth-child(2) { white-space: nowrap; }
.share svg { display: block; width: 160px; height: 13px; margin-top: 2px; }
@media screen and (max-width: 660px) {
  td, th { padding-right: 6px; }
  table { font-size: 10.5px; }
  .share svg { width: 60px; height: 6px; }
  .units td:nth-child(3) { white-space: normal; }
}
@media print {
  body { padding: 0; max-width: none; font-size: 9pt; }
  h2 { margin-top: 7pt; margin-bottom: 3pt; }
  td, th { padding-top: 0.8pt; padding-bottom: 0.8pt; }
  table { font-size: 8.5pt; }
}
)";

}  // namespace bareglass::host::report
