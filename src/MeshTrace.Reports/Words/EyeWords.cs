using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.ReceiversEye;

namespace MeshTrace.Reports.Words;

/// <summary>What the receiver's eye says of one element, in a phrase.</summary>
internal static class EyeWords
{
    public static string Of(EyeView view) => view.Verdict switch
    {
        EyeVerdict.Acted => "its answer was heard",
        EyeVerdict.ShouldHaveActed => "nothing known kept it from acting, and its answer would have been heard",
        EyeVerdict.Rejected => Sure(view.Confidence) + Rejection(view),
        _ => "cannot be told" + Doubt(view),
    };

    private static string Sure(Confidence confidence) => confidence switch
    {
        Confidence.Certain => "",
        Confidence.Likely => "likely ",
        _ => "possibly ",
    };

    private static string Rejection(EyeView view) => view.Step switch
    {
        ReceiveStep.NetworkKey when view.OutOfNetwork => "in no network then (reset, or not provisioned yet)",
        ReceiveStep.NetworkKey => "it has not the network key",
        ReceiveStep.IvIndex => "it is at another IV index",
        ReceiveStep.Reach when view is { TtlNeeded: { } needed, TtlSent: { } sent } => $"out of reach: sent with TTL {sent}, the way to it needs {needed}",
        ReceiveStep.Reach => $"out of reach: the lowest TTL heard was {view.LowestTtl}",
        ReceiveStep.MessageCache => "taken for a copy of a message it had before (message cache)",
        ReceiveStep.Segments => "not all segments came together",
        ReceiveStep.ReplayProtection when view.SeqReceivedBefore is { } before => $"taken for a replay: SEQ {view.Seq} is not above {before}, which it had before",
        ReceiveStep.ReplayProtection => "taken for a replay (SEQ)",
        ReceiveStep.ReplayListSpace => "its replay protection list is full",
        ReceiveStep.AppKey => "it has not the application key",
        ReceiveStep.Model => "it has no model for such a message",
        ReceiveStep.Address => "it does not subscribe to this address",
        ReceiveStep.Binding => "the application key is not bound to its model",
        ReceiveStep.Transaction => "taken for a repetition of the press before (same TID)",
        _ => "something rejects it",
    };

    private static string Doubt(EyeView view) => view.Doubt switch
    {
        EyeDoubt.ConfigurationUnknown => ": its keys, models, subscriptions or bindings are not known",
        EyeDoubt.ReachUnknown => ": nobody knows whether a copy came to it",
        EyeDoubt.NoAnswerExpected => ": it would not have told",
        EyeDoubt.HeardTooLittle when view.MissChance is { } chance => $": the receiver may have missed its answer (chance {Phrases.Percent(chance)})",
        EyeDoubt.HeardTooLittle => ": the receiver may have missed its answer",
        _ => "",
    };
}
