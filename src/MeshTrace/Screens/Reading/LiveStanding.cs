using MeshTrace.Live;

namespace MeshTrace.Screens.Reading;

/// <summary>How a live run stands; never changes once made, so it may pass between threads.</summary>
/// <param name="State">Its numbers.</param>
/// <param name="HasEnded">Nothing comes any more.</param>
internal sealed record LiveStanding(LiveState State, bool HasEnded);
