using System.Runtime.InteropServices;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.ReceiversEye;

/// <summary>What the steps ask of a press again and again, whichever element looks at it: worked out once for all of them.</summary>
internal sealed class PressScene
{
    /// <summary>An answer is one PDU within 5 s of the last request (§3.7.4).</summary>
    private const long LatestAnswerNs = 5_000_000_000;

    private readonly CaptureHistory _history;
    private readonly AddressMap<PressAnswer> _answers = new();
    private readonly AddressMap<int> _senders = new();
    private bool _sendersKnown;

    public PressScene(CaptureHistory history) => _history = history;

    /// <summary>Turns to another press.</summary>
    public void Show(int row)
    {
        CaptureHistory history = _history;
        (Row, Press) = (row, history.Presses[row]);
        (Seq, TtlSent, MessageCache, EarlierKnown, Earlier, _sendersKnown) = (0, null, null, false, null, false);
        Floods.Clear();
        _answers.Clear();
        SrcNode = history.Directory.NodeOf(Press.Src);
        int first = Press.Messages[0];
        (Subnet, AppKey, IvIndex) = (history.Messages[first].Subnet, history.Messages[first].AppKey, history.Messages[first].IvIndex);
        foreach (int message in CollectionsMarshal.AsSpan(Press.Messages))
        {
            if (history.Messages[message].Seq > Seq || history.Messages[message].IvIndex > IvIndex)
                (Seq, IvIndex) = (history.Messages[message].Seq, Math.Max(IvIndex, history.Messages[message].IvIndex));
            foreach (int flood in history.FloodSpanOf(message))
            {
                Floods.Add(flood);
                if (history.Floods[flood].Credentials == Credentials.Flooding && history.Floods[flood].OriginalTtl is { } sent)
                    TtlSent = Math.Max(TtlSent ?? 0, sent);
            }
        }
        foreach (ref readonly PressAnswer answer in CollectionsMarshal.AsSpan(Press.Answers))
            _answers.TryAdd(answer.Element, answer);
        NetKeyIndex = history.Keys.Subnets[Subnet].NetKeyIndex;
        AppKeyIndex = AppKey < 0 ? null : history.Keys.AppKeys[AppKey].AppKeyIndex;
        Status = RequestKind.Find(Press.Opcode)!.Status.Value;
        Servers = AccessCatalogue.Find(Press.Opcode)?.ServerModels ?? [];
        DeafShare = Press.TimeNs == CapturedFrame.NoTime ? history.Deafness.DeafShareOf(0, 0)
            : history.Deafness.DeafShareOf(Press.TimeNs, Math.Max(Press.TimeNs, history.Messages[Press.Messages[^1]].TimeNs) + LatestAnswerNs);
    }

    /// <summary>Row of the press.</summary>
    public int Row { get; private set; } = -1;
    public Press Press { get; private set; } = null!;
    public MeshAddress SrcNode { get; private set; }

    /// <summary>Of the first request.</summary>
    public int Subnet { get; private set; }
    public int AppKey { get; private set; }
    public int? NetKeyIndex { get; private set; }
    public int? AppKeyIndex { get; private set; }

    /// <summary>Highest IV index of the requests.</summary>
    public uint IvIndex { get; private set; }

    /// <summary>Highest SEQ of the requests.</summary>
    public uint Seq { get; private set; }
    public int? TtlSent { get; private set; }
    public List<int> Floods { get; } = [];

    /// <summary>Opcode of the Status that answers it.</summary>
    public uint Status { get; private set; }

    /// <summary>Numbers of the models that take it, by the catalogue.</summary>
    public IReadOnlyList<ushort> Servers { get; private set; } = [];

    /// <summary>Share of the time in which an answer would have come, 0 to 1, in which no receiver listened.</summary>
    public double DeafShare { get; private set; }

    /// <summary>The step of the message cache, which is the same for all nodes; worked out at the first look.</summary>
    public StepView? MessageCache { get; set; }

    /// <summary>True once <see cref="Earlier"/> was looked up.</summary>
    public bool EarlierKnown { get; set; }

    /// <summary>Row of an earlier press that this may be a repetition of, or null.</summary>
    public int? Earlier { get; set; }

    /// <summary>The first answer of an element, or null.</summary>
    public PressAnswer? AnswerOf(MeshAddress element) => _answers.TryGetValue(element, out PressAnswer answer) ? answer : null;

    /// <summary>A flood of it of which a node sent a copy, or null.</summary>
    /// <param name="node">Primary address.</param>
    public int? FloodSentBy(MeshAddress node)
    {
        if (!_sendersKnown)
            NoteSenders();
        return _senders.TryGetValue(node, out int flood) ? flood : null;
    }

    private void NoteSenders()
    {
        _sendersKnown = true;
        _senders.Clear();
        foreach (int flood in CollectionsMarshal.AsSpan(Floods))
            foreach (ref readonly FloodCopy copy in _history.CopiesOf(flood))
                if (_history.SenderOf(copy) is { } sender)
                    _senders.TryAdd(sender, flood);
    }
}

/// <summary>A press as one element meets it.</summary>
internal readonly struct Scene
{
    public Scene(PressScene scene, MeshAddress element, Listener listener, PressWay way)
    {
        (Shared, Element, Listener, Way) = (scene, element, listener, way);
        State = listener.Model.At(scene.Press.TimeNs);
    }

    public PressScene Shared { get; }
    public MeshAddress Element { get; }
    public Listener Listener { get; }
    public PressWay Way { get; }
    public Nodes.NodeState State { get; }
    public MeshAddress Node => Listener.Node;
    public Nodes.NodeModel Model => Listener.Model;
    public Press Press => Shared.Press;
    public MeshAddress SrcNode => Shared.SrcNode;
    public int Subnet => Shared.Subnet;
    public int AppKey => Shared.AppKey;
    public uint IvIndex => Shared.IvIndex;
    public uint Seq => Shared.Seq;
    public int? TtlSent => Shared.TtlSent;
    public List<int> Floods => Shared.Floods;
}
