#pragma once
// Objects on the glass in milliseconds: the four couplings of a conductor from surface kernels.

#include <Eigen/Dense>
#include <memory>
#include <utility>
#include <vector>

#include "bareglass/field/footprint.hpp"
#include "bareglass/field/surface_kernels.hpp"

namespace bareglass::field {

class LineRelief;
class SpotResponse;
class SurfaceModel;

/// The lines of a panel, of which only those near an object are computed.
struct LineRange {
  int rows = 1;     ///< >= 1
  int columns = 1;  ///< >= 1
};

/// What one conductor on the glass does, for the block of lines it is felt by. fF.
struct Coupling {
  int first_row = 0;
  int first_column = 0;
  Eigen::MatrixXd loss;       ///< what the node loses to the grounded object, rows x columns, > 0
  Eigen::VectorXd to_row;     ///< C_TF
  Eigen::VectorXd to_column;  ///< C_FR
  double self = 0.0;          ///< C_FF

  /// Change of the node (row, column) with `to_ground` (fF; 0 isolated, infinity grounded) from
  /// the object to ground: C_TF C_FR / (C_FF + C_b) - loss. Zero outside the block.
  double change(int row, int column, double to_ground) const;
};

/// The squares that an object is cut into: nx x ny of them about its bounding box.
struct SquareGrid {
  Point corner;  ///< middle of square (0, 0), mm, in the footprint's own coordinates
  int nx = 0;
  int ny = 0;
};

/// An object cut into patches, with the factor of their mutual potentials. Depends on its shape
/// alone, so a thing that moves is cut once.
///
/// Patches are single squares along the outline. Well inside a large thing they are blocks of 2, 4
/// or 8 squares a side. What a grounded cover would carry there, the kernels' own charge, is put on
/// its core beforehand, all of these blocks together, so that the patches carry only what the
/// outline adds.
class PatchedObject {
 public:
  struct Patch {
    Point centre;           ///< mm, in the footprint's own coordinates
    double coverage = 1.0;  ///< part of the square that is covered, (0, 1]
    int i = 0;              ///< place among the squares of the bounding box, in x
    int j = 0;              ///< and in y
    int size = 1;           ///< squares along a side; (i, j) is the least of them
  };
  const std::vector<Patch>& patches() const { return patches_; }
  double step_mm() const { return step_mm_; }
  const SquareGrid& grid() const { return grid_; }
  const Footprint& footprint() const { return footprint_; }
  /// Squares of step_mm() that the patches are made of.
  std::size_t squares() const { return squares_; }
  /// True if some patches are blocks of squares.
  bool graded() const { return !cells_.empty(); }
  /// False if the object is too large for patches; then the quick model serves.
  bool factorised() const { return factor_ != nullptr; }

 private:
  friend class SurfaceModel;
  friend class CompanySolver;
  Footprint footprint_;
  double step_mm_ = 0.0;
  SquareGrid grid_;
  std::vector<Patch> patches_;
  std::size_t squares_ = 0;
  std::vector<Patch> cells_;  ///< what makes the core: blocks of two squares, then single ones
  std::vector<Eigen::Index> under_;  ///< of each cell, the patch that it is a part of
  std::vector<std::pair<Eigen::Index, Eigen::Index>> beside_;  ///< cells of one size side by side
  std::shared_ptr<const Eigen::MatrixXf> to_patches_;          ///< potentials, patches x cells
  std::vector<std::shared_ptr<const Eigen::MatrixXf>> relief_to_patches_;  ///< crests, by waves
  std::vector<std::shared_ptr<const Eigen::MatrixXf>> relief_to_cells_;
  std::shared_ptr<const Eigen::LLT<Eigen::MatrixXd>> factor_;
  Eigen::VectorXf unit_;  ///< charge of each patch at 1 V, over flat ground
  /// For each wave of the lines' relief, what it takes from the patches' potentials: with the
  /// object where it was cut, a crest on its first node, and a quarter of a wave further.
  std::vector<std::shared_ptr<const Eigen::MatrixXf>> relief_;
  std::shared_ptr<const Eigen::MatrixXf> inverse_;  ///< see SurfaceModel::prepare
  /// The inverse times each of relief_ times the inverse, of small objects.
  std::vector<std::shared_ptr<const Eigen::MatrixXf>> relieved_;
};

/// What acts on the patches of an object where it lies.
struct Sources {
  Eigen::MatrixXf row_volts;     ///< bare potentials of rows less what the cores make, by patch
  Eigen::MatrixXf column_volts;  ///< of columns
  Eigen::MatrixXf row_core;      ///< charge on each cell of the object's own core, by rows; fF
  Eigen::MatrixXf column_core;   ///< by columns
  Eigen::MatrixXf row_sharp;     ///< the same for potentials, see SurfaceModel::sharpened
  Eigen::MatrixXf column_sharp;
};

/// A cut object and where it lies.
struct PlacedObject {
  const PatchedObject* object = nullptr;
  Point place;
  int conductor = 0;  ///< objects of the same number are one conductor, and may overlap
  /// The model that has cut it, if not the one that is asked: an object at another height above the
  /// same panel. Potentials between objects at different heights are the mean of what both models
  /// say.
  const SurfaceModel* model = nullptr;
};

/// Two models over the same kernels.
///
/// Patches: by reciprocity everything follows from the potential phi of the bare surface and the
/// response G of a charged spot on it, all lines grounded: with s = inverse(G) over the object,
/// loss = phi_R s phi_T, C_TF = 1 s phi_T, C_FR = 1 s phi_R, C_FF = 1 s 1. The identities are
/// exact; G is that of a uniform slab on a ground plane (images in a microstrip's substrate,
/// Silvester 1968) below the surroundings, as thick as makes a full cover agree with c_F, and to
/// first order of a ground that is higher over the stripes. phi is what gives a cover of the whole
/// glass exactly the kernels' charges. Errors against full solutions: see
/// tests/field/field_full_model_test.cpp and field_full_large_test.cpp.
///
/// Objects must lie within 2 m of node (0, 0); all members throw std::invalid_argument otherwise.
///
/// Quick: integrals of the kernels over the footprint grown by the panel's allowances.
class SurfaceModel {
 public:
  explicit SurfaceModel(SurfaceKernels kernels);

  /// Cuts `footprint` into squares of `step_mm`, coarser ones if it is large (at most
  /// kMostPatches, none wider than kWidestStep); see PatchedObject.
  PatchedObject cut(const Footprint& footprint, double step_mm = 0.5) const;
  /// Couplings of a cut object moved by `shift`.
  Coupling couple(const PatchedObject& object, Point shift, const LineRange& lines) const;
  /// Spends the time of about five couplings on making all later ones of `object` four times
  /// faster: for things that move.
  void prepare(PatchedObject& object) const;
  /// Couplings of conductors that lie near each other, each with all others at 0 V, and `between`
  /// all pairs of them (zero on the diagonal), fF. The conductors are numbered 0, 1, .. and made of
  /// `objects`, which must be factorised and may overlap if they are of one conductor. The
  /// couplings share one block of lines, and what the nodes lose to all conductors is the first
  /// one's loss. Objects further apart than kFeltApart do not feel each other.
  std::vector<Coupling> couple_together(Eigen::MatrixXd& between,
                                        const std::vector<PlacedObject>& objects,
                                        const LineRange& lines) const;
  /// Couplings of a footprint where it lies: cut and couple, or the quick model if too large.
  Coupling couple(const Footprint& footprint, const LineRange& lines) const;
  /// Couplings by the quick model, integrated in squares of `step_mm`.
  Coupling quick(const Footprint& footprint, const LineRange& lines, double step_mm = 0.25) const;

  const SurfaceKernels& kernels() const { return kernels_; }

  /// Patches that are enough as long as their squares are below kCoarseStep mm wide, and the most
  /// that there may be.
  static constexpr int kEnoughPatches = 900;
  static constexpr int kMostPatches = 1600;
  static constexpr double kCoarseStep = 1.0;
  static constexpr double kWidestStep = 1.6;  ///< mm
  static constexpr int kMostEven = 400;       ///< more squares than these are gathered in blocks
  static constexpr int kLargestBlock = 8;     ///< squares along a side
  /// Objects of more patches keep the relief apart from their inverse: it would take longer to
  /// prepare than a thing moves.
  static constexpr int kMostRelieved = 300;
  static constexpr double kFeltApart = 4.0;  ///< mm; beyond it below 1 fF on any node

 private:
  friend class CompanySolver;
  /// The charge that brings an object, moved by `shift`, to `volts` on each patch.
  Eigen::MatrixXf held(const PatchedObject& object, Point shift,
                       const Eigen::MatrixXf& volts) const;
  /// The same over flat ground.
  static Eigen::MatrixXf held_flat(const PatchedObject& object, const Eigen::MatrixXf& volts);
  /// How high the relief's waves stand at an object moved by `shift`, for each of its relief_.
  std::vector<float> phases(Point shift) const;
  void add_relief(PatchedObject& object) const;
  /// Potential at `p` of a charged square of side `step` at `q`, some way apart.
  double between(Point p, Point q, double step) const;
  /// Means over blocks of squares of an object, moved by `shift`, of the kernels of rows and of
  /// columns: blocks x lines of `block`.
  void sample(Eigen::MatrixXf& of_rows, Eigen::MatrixXf& of_columns, const PatchedObject& object,
              const std::vector<PatchedObject::Patch>& blocks, Point shift, const Coupling& block,
              const Kernel& row_kernel, const Kernel& column_kernel) const;
  Sources sources(const PatchedObject& object, Point shift, const Coupling& block) const;
  /// Charge of a core whose potentials are those of the charge `core` within its cells.
  static Eigen::MatrixXf sharpened(const Eigen::MatrixXf& core, const PatchedObject& object);
  /// Takes from the potentials of patches what charge on the core makes there.
  void take_core(Eigen::MatrixXf& volts, const PatchedObject& object, Point shift,
                 const Eigen::MatrixXf& core) const;
  /// What the core alone adds to the loss, rows x columns; fF.
  Eigen::MatrixXf core_loss(const PatchedObject& object, Point shift, const Coupling& block,
                            const Sources& on) const;
  static void find_neighbours(PatchedObject& object);
  void fill_core(PatchedObject& object, const Eigen::MatrixXd& table) const;

  SurfaceKernels kernels_;
  std::shared_ptr<const SpotResponse> spot_;
  std::shared_ptr<const LineRelief> relief_;
  /// What is left between the loss under a full cover by the model's potentials and the true one.
  double loss_scale_ = 1.0;
};

/// Allowances of the quick model that fit the patch model best over discs of 6 to 12 mm on and
/// between nodes. `kernels` need not have any yet.
Allowances fit_allowances(const SurfaceKernels& kernels);

}  // namespace bareglass::field
