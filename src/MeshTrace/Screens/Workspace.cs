using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Commands;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Reports.Words;
using MeshTrace.Screens.Reading;

namespace MeshTrace.Screens;

/// <summary>
/// What all screens share: the history as far as it is known, what is selected, and what is shown of it. Only the thread that draws touches it.
/// </summary>
internal sealed class Workspace(VendorCatalogue? vendor = null)
{
    private Account? _account;
    private string? _notice;

    private (CaptureHistory History, NodeTracks Tracks, LiveStanding Standing)? _pending;

    /// <summary>How the run stands whose histories these are, or null where a capture was read.</summary>
    public LiveStanding? Live { get; private set; }

    /// <summary>Called before and after a history takes the place of another; after, with what finds rows again.</summary>
    public Action? Renewing { get; set; }
    public Action<RowFollowing>? Renewed { get; set; }

    /// <summary>Words that the user has to see, or null; taken once.</summary>
    public string? TakeNotice()
    {
        string? says = _notice;
        _notice = null;
        return says;
    }

    /// <summary>While true, a new history waits: what is being asked is about rows of the one at hand.</summary>
    public bool Holds { get; private set; }

    /// <summary>Grows whenever rows may have changed.</summary>
    public int Version { get; private set; }

    /// <summary>How far the reading has come, and the presses known until then.</summary>
    public ReadingState Reading { get; private set; } = ReadingState.Begun;

    /// <summary>True once the whole capture was read.</summary>
    public bool IsSettled => _account is not null;

    /// <summary>History, names and vendor messages; only once the whole capture was read.</summary>
    public Account Account => _account ?? throw new InvalidOperationException("still reading");
    public CaptureHistory History => Account.History;

    /// <summary>Why no screen has anything of the network's messages, or null where something was opened or all is still being read.</summary>
    public string? NothingOpened { get; private set; }

    /// <summary>What each node did when, for the timelines.</summary>
    public NodeTracks Tracks { get; private set; } = NodeTracks.None;

    public Narrowing Only { get; private set; } = Narrowing.None;

    /// <summary>Row of the press last chosen.</summary>
    public int? Press { get; private set; }

    /// <summary>Row of the flood last chosen.</summary>
    public int? Flood { get; private set; }

    /// <summary>Row of the transfer last chosen.</summary>
    public int? Transfer { get; private set; }

    /// <summary>Primary address of the node last chosen.</summary>
    public MeshAddress? Node { get; private set; }

    /// <summary>Time last looked at.</summary>
    public long? TimeNs { get; private set; }

    public void Tell(ReadingState state)
    {
        if (IsSettled)
            return;
        Reading = state;
        Version++;
    }

    /// <summary>The whole capture was read.</summary>
    public void Settle(CaptureHistory history, NodeTracks tracks)
    {
        _account = new Account(history, new NameBook(history), vendor);
        Tracks = tracks;
        NothingOpened = AnalysisRun.NothingDecoded(history);
        Reading = Reading with { Share = 1 };
        Version++;
    }

    /// <summary>Tells the user something.</summary>
    public void Notice(string says) => _notice = says;

    /// <summary>A live run goes on.</summary>
    public void Tell(LiveStanding standing) => Live = standing;

    /// <summary>A live run has a new history: things chosen stay chosen, as long as they are in it.</summary>
    public void Renew(CaptureHistory history, NodeTracks tracks, LiveStanding standing)
    {
        Live = standing;
        if (Holds)
        {
            _pending = (history, tracks, standing);
            return;
        }
        if (_account is not { } before)
        {
            Settle(history, tracks);
            return;
        }
        Renewing?.Invoke();
        var following = new RowFollowing(before.History, history);
        Press = following.Press(Press);
        Flood = following.Flood(Flood);
        Transfer = following.Transfer(Transfer);
        Only = Only with { Press = following.Press(Only.Press) };
        Settle(history, tracks);
        Renewed?.Invoke(following);
    }

    /// <summary>Whether new histories wait; once they need not any more, the last one comes.</summary>
    public void Hold(bool holds)
    {
        Holds = holds;
        if (holds || _pending is not { } pending)
            return;
        _pending = null;
        Renew(pending.History, pending.Tracks, pending.Standing);
    }

    public void Narrow(Narrowing only)
    {
        if (only == Only)
            return;
        Only = only;
        Version++;
    }

    public void ChoosePress(int row)
    {
        Press press = History.Presses[row];
        if (Press != row)
            Flood = press.Messages.Count > 0 && History.FloodsOf(press.Messages[0]) is [var first, ..] ? first : null;
        Press = row;
        Node = History.Directory.NodeOf(press.Src);
        TimeNs = press.TimeNs;
    }

    public void ChooseFlood(int row)
    {
        Flood = row;
        TimeNs = History.Floods[row].FirstTimeNs;
        if (History.Floods[row].Src.IsUnicast)
            Node = History.Directory.NodeOf(History.Floods[row].Src);
    }

    public void ChooseTransfer(int row)
    {
        Transfer = row;
        TimeNs = History.Transfers[row].FirstTimeNs;
        if (History.Transfers[row].Sent is [var first, ..])
            Flood = first.Flood;
    }

    public void ChooseNode(MeshAddress node) => Node = node;

    public void ChooseTime(long timeNs) => TimeNs = timeNs;
}
