namespace MeshTrace.Live;

/// <summary>How a live run stands.</summary>
/// <param name="Frames">Frames received since its beginning.</param>
/// <param name="Waiting">Frames received and not yet taken into the account.</param>
/// <param name="Lost">Frames lost because more came than could be taken.</param>
/// <param name="LostBefore">Frames that the system lost before this program got them.</param>
/// <param name="Dropped">Frames that have left the history.</param>
internal sealed record LiveState(long Frames, int Waiting, long Lost, long LostBefore, long Dropped);
