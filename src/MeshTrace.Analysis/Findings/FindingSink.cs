using System.Runtime.InteropServices;
using MeshTrace.Analysis.Findings.Catalogue;
using MeshTrace.Analysis.Findings.Rules.Sequence;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings;

/// <summary>Judges the history for one kind of finding.</summary>
internal interface IFindingRule
{
    /// <summary>Id of its row in <see cref="FindingCatalogue"/>.</summary>
    string Id { get; }

    void Examine(CaptureHistory history, FindingSink findings);
}

/// <summary>Collects what the rules find.</summary>
internal sealed class FindingSink(CaptureHistory history)
{
    /// <summary>Rows of evidence kept of one finding: more make no difference to its reader.</summary>
    public const int MostEvidence = 64;

    private readonly List<Finding> _findings = [];
    private SilentElements? _silences;
    private IReadOnlyList<SequenceLine>? _sequenceLines;

    public IReadOnlyList<Finding> Findings => _findings;

    /// <summary>What silence is worth; keeps what it withheld.</summary>
    public Weighing Weighing { get; } = new(history);

    /// <summary>Works out what several rules judge, on several cores where they may be used. Needs neither what is counted of the nodes nor the outcome of the presses.</summary>
    public void Prepare() => SideBySide.Run(history.Cores, () => _ = Silences, () => _ = SequenceLines);

    /// <summary>Who did not answer which press, and why as far as is known. Worked out when the first rule asks.</summary>
    public SilentElements Silences => _silences ??= new SilentElements(history);

    /// <summary>The sequence numbers of each element, which several rules judge. Worked out when the first rule asks.</summary>
    public IReadOnlyList<SequenceLine> SequenceLines => _sequenceLines ??= SequenceLine.Of(history);

    /// <summary>Names and numbers in words.</summary>
    public FindingWords Words { get; } = new(history);

    /// <summary>True if a fault found before tells why a node did not act on a press.</summary>
    /// <param name="press">Row of the press.</param>
    /// <param name="node">Primary address.</param>
    /// <param name="butThose">True: findings that tell that it was silent, and not why, do not count.</param>
    public bool Explains(int press, MeshAddress node, bool butThose = false)
    {
        foreach (int row in CollectionsMarshal.AsSpan(history.Presses[press].Findings))
            if (row < _findings.Count && _findings[row] is { Severity: Severity.Fault } finding && !(butThose && finding.Id is ("press-unanswered" or "some-lamps-silent")) && (finding.Node == node || finding.Explained.Contains(node)))
                return true;
        return false;
    }

    /// <summary>A finding about one press, or about none.</summary>
    /// <param name="id">Its row in <see cref="FindingCatalogue"/>.</param>
    /// <param name="confidence">How sure it is.</param>
    /// <param name="timeNs">When it showed first.</param>
    /// <param name="node">Primary address of the node to look at, or null.</param>
    /// <param name="press">Row of the press, or null.</param>
    /// <param name="says">One plain sentence.</param>
    /// <param name="evidence">What it rests on.</param>
    /// <param name="remedy">What to do, where the rule knows better than the row: the number to set, the node to go to.</param>
    public void Add(string id, Confidence confidence, long timeNs, MeshAddress? node, int? press, string says, IReadOnlyList<Evidence> evidence, string? remedy = null) =>
        AddOver(id, confidence, timeNs, node, press is { } row ? [row] : [], says, evidence, remedy);

    /// <summary>A finding about several presses: one cause that cost them all is told once.</summary>
    /// <inheritdoc cref="Add"/>
    /// <param name="presses">Rows of the presses, in order.</param>
    /// <param name="explained">Primary addresses of further nodes whose silence it explains.</param>
    public void AddOver(string id, Confidence confidence, long timeNs, MeshAddress? node, IReadOnlyList<int> presses, string says, IReadOnlyList<Evidence> evidence,
        string? remedy = null, IReadOnlyList<MeshAddress>? explained = null)
    {
        FindingDefinition definition = FindingCatalogue.Of(id);
        foreach (int press in presses)
        {
            List<int> told = history.Presses[press].Findings;
            if (told.Capacity == 0)
                told.Capacity = 1;      // most presses have one at most
            told.Add(_findings.Count);
        }
        _findings.Add(new Finding
        {
            Id = id, Severity = definition.Severity, Confidence = confidence, TimeNs = timeNs, Node = node, Press = presses.Count > 0 ? presses[0] : null,
            Presses = presses, Says = says, Evidence = evidence.Count > MostEvidence ? [.. evidence.Take(MostEvidence)] : evidence, Remedy = remedy ?? definition.Remedy,
            Explained = explained ?? [],
        });
    }
}

/// <summary>All rules, in the order in which their findings are numbered.</summary>
internal static class FindingRules
{
    private static readonly IFindingRule[] All =
    [
        .. PressFindings.Rules,
        .. AddressFindings.Rules,
        .. SequenceFindings.Rules,
        .. TransferFindings.Rules,
        .. TransactionFindings.Rules,
        .. FriendshipFindings.Rules,
        .. JoiningFindings.Rules,
        .. PressFindings.RulesOfTheRest,
        .. CaptureFindings.Rules,
    ];

    /// <summary>Every finding that a rule judges.</summary>
    internal static IEnumerable<string> Ids => All.Select(rule => rule.Id);

    /// <summary>Lets all rules judge.</summary>
    /// <param name="history">The capture.</param>
    /// <param name="sink">Empty; what it works out for several rules may be prepared.</param>
    /// <param name="stageBegins">Told the id of each rule before it judges.</param>
    public static IReadOnlyList<Finding> ExamineAll(CaptureHistory history, FindingSink sink, Action<string>? stageBegins = null)
    {
        foreach (IFindingRule rule in All)
        {
            stageBegins?.Invoke(rule.Id);
            rule.Examine(history, sink);
        }
        return sink.Findings;
    }
}
