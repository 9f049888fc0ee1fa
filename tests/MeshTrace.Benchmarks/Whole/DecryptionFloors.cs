using System.Diagnostics;
using System.Globalization;
using System.Runtime.Intrinsics;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Benchmarks.Whole;

/// <summary>
/// Opening one long Network PDU against what the processor needs at least: four AES blocks of which each waits for the one before, and four that wait for
/// nothing, as in a batch whose PDUs are interleaved.
/// </summary>
internal static class DecryptionFloors
{
    private const int Repeats = 40, Operations = 50_000;

    public static void Tell()
    {
        using var benchmark = new NetworkPduBenchmarks { Pdu = "long" };
        benchmark.Prepare();
        AesKey key = new(Convert.FromHexString("0953fa93e7caac9638f58820220a398e"));
        byte[] blocks = new byte[AesKey.BlockLength * 4];
        double chained = Ns(() => benchmark.FourChainedBlocks()), ours = Ns(() => benchmark.Processor()), plain = Ns(() => benchmark.OverBouncyCastlesEngine());
        double apart = Ns(() => FourApart(key, blocks));
        Console.WriteLine("| four chained blocks (floor) | opening one PDU | to the floor | over BouncyCastle's engine | four blocks apart (floor of a batch) | opening to that floor |");
        Console.WriteLine("| --- | --- | --- | --- | --- | --- |");
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"| {chained:F1} ns | {ours:F1} ns | **{ours / chained:F2}** | {plain:F1} ns | {apart:F1} ns | **{ours / apart:F2}** |"));
    }

    /// <summary>Nothing waits for anything: the processor overlaps the rounds of one call with those of the next.</summary>
    private static byte FourApart(AesKey key, byte[] blocks)
    {
        byte sum = 0;
        for (int at = 0; at < blocks.Length; at += AesKey.BlockLength)
            sum += key.Encrypt(Vector128.Create(blocks, at))[0];
        return sum;
    }

    private static double Ns<T>(Func<T> action)
    {
        double least = double.MaxValue;
        for (int repeat = 0; repeat < Repeats; repeat++)
        {
            var watch = Stopwatch.StartNew();
            for (int i = 0; i < Operations; i++)
                action();
            least = Math.Min(least, watch.Elapsed.TotalNanoseconds / Operations);
        }
        return least;
    }
}
