using MeshTrace.Analysis.History;

namespace MeshTrace.Live;

/// <summary>Hears how a live run goes. Called on the thread that runs it.</summary>
internal interface ILiveListener
{
    /// <summary>Something that the user must know, one sentence without final stop.</summary>
    void Notice(string says);

    /// <summary>A new history was made.</summary>
    /// <param name="history">Of what is remembered; nobody else has it.</param>
    /// <param name="nowNs">Time by the capture's clock.</param>
    /// <param name="state">How the run stands.</param>
    /// <param name="final">Nothing comes any more.</param>
    void Looked(CaptureHistory history, long nowNs, LiveState state, bool final);

    /// <summary>Time has passed and no new history was made.</summary>
    void Ticked(long nowNs, LiveState state);
}
