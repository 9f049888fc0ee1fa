using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.ReceiversEye;

/// <summary>
/// The verdict of an <see cref="EyeView"/> and what explains it, in 40 octets and nothing beside: for whoever keeps many. What may be null has a number for it that cannot occur.
/// </summary>
internal struct EyeGlance
{
    private const int None = -1;
    private const uint NoSeq = uint.MaxValue;       // SEQ has 24 bits

    /// <summary>Kinds of record that a step rests on.</summary>
    private static readonly string[] Records = ["press", "message", "flood", "transfer"];

    private int _restsOnRow, _appKeyIndex, _model, _ttlNeeded;
    private uint _seqReceivedBefore;
    private sbyte _restsOnRecord, _ttlSent;

    public EyeGlance(int press, MeshAddress element, MeshAddress node)
    {
        (Press, Element, Node) = (press, element, node);
        (_restsOnRecord, _appKeyIndex, _model, _ttlNeeded, _ttlSent, _seqReceivedBefore) = (None, None, None, None, None, NoSeq);
    }

    public readonly int Press { get; }
    public uint Seq { get; set; }
    public readonly MeshAddress Element { get; }
    public readonly MeshAddress Node { get; }
    public EyeVerdict Verdict { get; set; }
    public ReceiveStep Step { get; set; }
    public EyeDoubt Doubt { get; set; }
    public Confidence Confidence { get; set; }
    public bool OutOfNetwork { get; set; }
    public bool OthersReach { get; set; }

    public int? AppKeyIndex { readonly get => OrNull(_appKeyIndex); set => _appKeyIndex = value ?? None; }
    public int? TtlSent { readonly get => OrNull(_ttlSent); set => _ttlSent = (sbyte)(value ?? None); }
    public int? TtlNeeded { readonly get => OrNull(_ttlNeeded); set => _ttlNeeded = value ?? None; }
    public uint? SeqReceivedBefore { readonly get => _seqReceivedBefore == NoSeq ? null : _seqReceivedBefore; set => _seqReceivedBefore = value ?? NoSeq; }

    /// <summary>A model of the standard on the element.</summary>
    public ModelInstance? Model { readonly get => _model == None ? null : new ModelInstance(Element, new ModelNumber((ushort)_model)); set => _model = value?.Model.Number ?? None; }

    /// <summary>A row that the verdict rests on beside the press.</summary>
    public Evidence? RestsOn
    {
        readonly get => _restsOnRecord == None ? null : new Evidence(Records[_restsOnRecord], _restsOnRow);
        set => (_restsOnRecord, _restsOnRow) = value is { } row ? ((sbyte)Array.IndexOf(Records, row.Record), row.Row) : ((sbyte)None, 0);
    }

    public readonly IReadOnlyList<Evidence> Evidence => RestsOn is { } row ? [new Evidence("press", Press), row] : [new Evidence("press", Press)];

    private static int? OrNull(int value) => value == None ? null : value;
}
