using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Transfers;

namespace MeshTrace.Analysis.Tests.Nodes;

/// <summary>What a node received is known whatever the order in which its proofs come: against going through all of them (common practice, no source).</summary>
public class RisingProofsTests
{
    [Theory, InlineData(4), InlineData(40), InlineData(400)]
    public void AnyOrder_KeepsTheHighestBeforeEachTime(int proofs)
    {
        var random = new Random(proofs);
        for (int round = 0; round < 20; round++)
        {
            var history = new CaptureHistory { Keys = new KeyRing() };
            (long TimeNs, uint IvIndex, uint Seq)[] all = [.. Enumerable.Range(0, proofs).Select(_ => ((long)random.Next(2 * proofs), (uint)random.Next(2), (uint)random.Next(proofs)))];
            if (round % 2 == 0)
                Array.Sort(all);        // they mostly come in order
            var rising = new RisingProofs(history, new LeastTtlProof());
            foreach ((long timeNs, uint ivIndex, uint seq) in all)
                rising.Add(timeNs, new Reception(history.Messages.Add(new MessageRow { IvIndex = ivIndex, Seq = seq }), -1), ToldBy.Message);
            Assert.Equal(all[0].TimeNs, rising.SinceNs);
            rising.Finish();
            int near = 0;
            for (int timeNs = -1; timeNs <= 2 * proofs; timeNs++)
            {
                (uint, uint)? highest = all.Where(proof => proof.TimeNs < timeNs).Select(proof => ((uint, uint)?)(proof.IvIndex, proof.Seq)).Max();
                Assert.Equal(highest, rising.LastBefore(timeNs) is { } last ? rising.NumberOf(last.Reception) : null);
                Assert.Equal(highest, rising.LastBefore(timeNs, ref near) is { } next ? rising.NumberOf(next.Reception) : null);
            }
        }
    }
}
