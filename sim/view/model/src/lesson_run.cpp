#include "bareglass/view/lesson_run.hpp"

#include <algorithm>

namespace bareglass::view {

LessonRun::LessonRun(Lesson lesson) : lesson_(std::move(lesson)) { begin_step(); }

void LessonRun::begin_step() {
  if (step().fresh) {
    bench_ = std::make_unique<BenchModel>(*step().fresh);
    watch_ = std::make_unique<LessonWatch>(*bench_);
    bench_->observe([this](const panel::LiveUnit::Step& done) { watch_->see(done); });
  }
  watch_->begin_step();
  prediction_.reset();
  right_.reset();
  after_.clear();
  text_ = watch_->fill(step().text);
  stage_ = Stage::asking;
}

void LessonRun::predict(std::size_t choice) {
  prediction_ = choice;
  run();
}

void LessonRun::go_on() { run(); }

void LessonRun::run() {
  bench_->schedule(step().events);
  left_s_ = step().run_s;
  stage_ = Stage::running;
  if (left_s_ <= 0.0) judge();
}

void LessonRun::advance(double seconds) {
  if (stage_ != Stage::running) return;
  const double now = std::min(seconds, left_s_);
  bench_->advance(now);
  left_s_ -= now;
  if (left_s_ <= 1e-9) judge();
}

void LessonRun::finish_running() { advance(left_s_); }

void LessonRun::judge() {
  stage_ = Stage::answered;
  std::size_t fitting = 0;
  for (std::size_t k = 0; k < step().choices.size(); ++k) {
    const std::vector<LessonCondition>& when = step().choices[k].when;
    if (!std::all_of(when.begin(), when.end(),
                     [&](const LessonCondition& c) { return watch_->holds(c); }))
      continue;
    right_ = k;
    ++fitting;
  }
  if (fitting != 1) right_.reset();
  after_ = watch_->fill(step().after);
}

void LessonRun::next() {
  if (number_ + 1 == lesson_.steps.size()) {
    stage_ = Stage::finished;
    return;
  }
  ++number_;
  begin_step();
}

void LessonRun::go_to(std::size_t target) {
  std::size_t from = std::min(target, lesson_.steps.size() - 1);
  const std::size_t last = from;
  while (!lesson_.steps[from].fresh) --from;
  number_ = from;
  begin_step();
  while (number_ < last) {
    run();
    finish_running();
    next();
  }
}

}  // namespace bareglass::view
