using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol.Access.Catalogue;

namespace MeshTrace.Reports.Words;

/// <summary>What is missing between a publisher and those that should act, in one sentence.</summary>
internal static class GapWords
{
    public static string Of(SetupGap gap, INames names)
    {
        string publisher = ModelName(gap.Publisher, names), address = names.Full(gap.Address), sure = gap.Confidence == Confidence.Possible ? " (possibly)" : "";
        string subscriber = gap.Subscriber is { } other ? ModelName(other, names) : "no model";
        string key = gap.AppKeyIndex is { } index ? $"application key {index}" : "an application key";
        string says = gap.Kind switch
        {
            SetupGapKind.PublisherWithoutAppKey => $"{publisher} should publish to {address} with {key}, which its node does not have",
            SetupGapKind.PublisherWithoutBinding => $"{publisher} should publish to {address} with {key}, which is not bound to it",
            SetupGapKind.PublishesNowhere => $"{publisher} publishes nowhere",
            SetupGapKind.GroupWithoutSubscriber => $"{publisher} publishes to {address}, to which no model subscribes",
            SetupGapKind.SubscriberOnOtherModel => $"{publisher} publishes to {address}, but only models that do not take such messages subscribe to it, such as {subscriber}",
            SetupGapKind.SubscriberOnOtherAppKey => $"{publisher} publishes to {address} with {key}, which is not bound to {subscriber}",
            SetupGapKind.TtlTooLow => $"{publisher} publishes to {address} with TTL {gap.Ttl}, but the way to {subscriber} needs {gap.TtlNeeded}",
            _ => throw new ArgumentOutOfRangeException(nameof(gap)),
        };
        return says + sure + ".";
    }

    private static string ModelName(ModelInstance model, INames names)
    {
        string? name = model.Model.Company is null ? ModelCatalogue.Find(model.Model.Number)?.Name : null;
        return $"{name ?? $"model {model.Model}"} of {DisplayWidth.Isolate(names.Full(model.Element))}";
    }
}
