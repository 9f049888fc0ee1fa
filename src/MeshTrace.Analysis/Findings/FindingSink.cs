using MeshTrace.Analysis.Findings.Catalogue;
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
    private readonly List<Finding> _findings = [];

    public IReadOnlyList<Finding> Findings => _findings;

    public void Add(string id, Confidence confidence, long timeNs, MeshAddress? node, int? press, string says, IReadOnlyList<Evidence> evidence)
    {
        FindingDefinition definition = FindingCatalogue.Of(id);
        if (press is { } row)
            history.Presses[row].Findings.Add(_findings.Count);
        _findings.Add(new Finding
        {
            Id = id, Severity = definition.Severity, Confidence = confidence, TimeNs = timeNs, Node = node, Press = press, Says = says,
            Evidence = evidence, Remedy = definition.Remedy,
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
        .. CaptureFindings.Rules,
    ];

    public static IReadOnlyList<Finding> ExamineAll(CaptureHistory history)
    {
        var sink = new FindingSink(history);
        foreach (IFindingRule rule in All)
            rule.Examine(history, sink);
        return sink.Findings;
    }
}
